#include "sim/base/shipped.h"

#include <gtest/gtest.h>

#include <cstdlib>

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
    EXPECT_TRUE(shipped_names(ShippedKind::scan).empty());
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
              "2 no shipped recipe is called 'plain', none is found in " + (folder_ / "recon/recipes").string());
}

TEST(ShippedHome, IsTheSourceTreeWhereNothingElseIsSaid) {
    unsetenv("ECHOLOOM_HOME");
    EXPECT_TRUE(std::filesystem::exists(home_folder() / "sim/base/shipped.h"));
}

}  // namespace
}  // namespace echoloom
