#include "sim/base/home.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cstdlib>

#include "tests/base/message.h"
#include "tests/base/temporary_folder.h"

namespace echoloom {
namespace {

/// Without a home of its own choice; what was set before comes back.
class Home : public testing::Test {
  protected:
    void SetUp() override { unsetenv("ECHOLOOM_HOME"); }
    void TearDown() override { unsetenv("ECHOLOOM_HOME"); }
};

TEST_F(Home, IsTheSourceTreeForAProgramInItsBuildFolder) {
    EXPECT_TRUE(std::filesystem::exists(home_folder() / "sim/base/home.h"));
}

TEST_F(Home, IsLookedForBesideTheProgramFirst) {
    const auto places = home_candidates("/opt/echoloom/bin/echoloom");
    ASSERT_EQ(places.size(), 4U);
    EXPECT_EQ(places[0], "/opt/echoloom/share/echoloom");
    EXPECT_EQ(places[1], "/opt/echoloom");
    EXPECT_TRUE(std::filesystem::exists(places[3] / "sim/base/home.h")) << places[3];
}

TEST_F(Home, OfABuildIsNotWhatHappensToBeInstalled) {
    const auto places = home_candidates(std::filesystem::read_symlink("/proc/self/exe"));
    ASSERT_EQ(places.size(), 4U);
    EXPECT_TRUE(std::filesystem::exists(places[2] / "sim/base/home.h")) << places[2];
}

TEST_F(Home, ThatIsChosenIsTakenAndMustBeAFolder) {
    const TemporaryFolder folder;
    setenv("ECHOLOOM_HOME", folder.path().c_str(), 1);
    EXPECT_EQ(home_folder(), folder.path());
    EXPECT_EQ(message_of([] { own_file("sim/import/example.toml"); }),
              "3 " + (folder / "sim/import/example.toml").string() +
                  ": cannot be read, and comes with the program; ECHOLOOM_HOME is set to " + folder.path().string() +
                  "; set it to a folder that holds all files of the program, or unset it");
    setenv("ECHOLOOM_HOME", "/no/such/folder", 1);
    EXPECT_EQ(message_of([] { home_folder(); }),
              "2 ECHOLOOM_HOME: /no/such/folder is not a folder; set it to a checkout or to share/echoloom of an "
              "installation, or unset it");
}

}  // namespace
}  // namespace echoloom
