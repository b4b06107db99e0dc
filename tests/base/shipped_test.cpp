#include "sim/base/shipped.h"

#include <gtest/gtest.h>

#include <cstdlib>
#include <fstream>

#include "tests/base/message.h"
#include "tests/base/temporary_folder.h"

namespace echoloom {
namespace {

/// A folder that stands for the project's own, with two probes in it.
class Shipped : public testing::Test {
  protected:
    void SetUp() override {
        std::filesystem::create_directories(folder_ / "sim/probes");
        folder_.write("sim/probes/linear_5MHz.toml", "");
        folder_.write("sim/probes/linear_9MHz.toml", "");
        folder_.write("sim/probes/notes.txt", "");
        setenv("ECHOLOOM_HOME", folder_.path().c_str(), 1);
    }
    void TearDown() override { unsetenv("ECHOLOOM_HOME"); }
    TemporaryFolder folder_;
};

TEST_F(Shipped, IsFoundByName) {
    EXPECT_EQ(find_shipped(ShippedKind::probe, "linear_5MHz"), folder_ / "sim/probes/linear_5MHz.toml");
    EXPECT_EQ(shipped_names(ShippedKind::probe), (std::vector<std::string>{"linear_5MHz", "linear_9MHz"}));
}

TEST_F(Shipped, LeavesPathsAsTheyAre) {
    EXPECT_EQ(find_shipped(ShippedKind::probe, "mine.toml"), "mine.toml");
    EXPECT_EQ(find_shipped(ShippedKind::probe, "here/mine"), "here/mine");
}

TEST_F(Shipped, SuggestsTheNearestNameOrListsAll) {
    EXPECT_EQ(message_of([] { find_shipped(ShippedKind::probe, "linear_5Mhz"); }),
              "2 no shipped probe is called 'linear_5Mhz', did you mean 'linear_5MHz'?");
    EXPECT_EQ(message_of([] { find_shipped(ShippedKind::probe, "curved"); }),
              "2 no shipped probe is called 'curved', choose from linear_5MHz, linear_9MHz");
    EXPECT_EQ(message_of([] { find_shipped(ShippedKind::recipe, "plain"); }),
              "3 there is no recipe in " + (folder_ / "recon/recipes").string() + "; ECHOLOOM_HOME is set to " +
                  folder_.path().string() + "; set it to a folder that holds all files of the program, or unset it");
}

/// Of the comment a file begins with.
std::string first_sentence(const std::filesystem::path& file) {
    std::ifstream stream(file);
    std::string comment;
    for (std::string line; std::getline(stream, line) && line.starts_with("# ");) {
        comment += line.substr(2) + ' ';
    }
    return comment.substr(0, comment.find(". "));
}

// A list of all that is shipped has a line for each.
TEST(ShippedFiles, SayWhatTheyAreInFewerThan80Characters) {
    unsetenv("ECHOLOOM_HOME");
    for (const ShippedKind kind : {ShippedKind::phantom, ShippedKind::probe, ShippedKind::scan, ShippedKind::recipe}) {
        EXPECT_FALSE(shipped_names(kind).empty());
        for (const std::string& name : shipped_names(kind)) {
            const std::string sentence = first_sentence(find_shipped(kind, name));
            EXPECT_FALSE(sentence.empty()) << name;
            EXPECT_LT(sentence.size(), 80U) << name << ": " << sentence;
        }
    }
}

}  // namespace
}  // namespace echoloom
