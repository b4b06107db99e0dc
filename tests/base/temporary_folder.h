#pragma once
/// A folder of a test's own, removed with all it holds.

#include <gtest/gtest.h>
#include <unistd.h>

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <sstream>
#include <string>
#include <vector>

namespace echoloom {

class TemporaryFolder {
  public:
    TemporaryFolder() {
        const auto* test = testing::UnitTest::GetInstance()->current_test_info();
        path_ = std::filesystem::temp_directory_path() / ("echoloom_" + std::string(test->test_suite_name()) + '_' +
                                                          test->name() + '_' + std::to_string(getpid()));
        std::filesystem::create_directories(path_);
    }
    ~TemporaryFolder() { std::filesystem::remove_all(path_); }
    TemporaryFolder(const TemporaryFolder&) = delete;
    TemporaryFolder& operator=(const TemporaryFolder&) = delete;
    TemporaryFolder(TemporaryFolder&&) = delete;
    TemporaryFolder& operator=(TemporaryFolder&&) = delete;

    std::filesystem::path operator/(const std::string& name) const { return path_ / name; }
    const std::filesystem::path& path() const { return path_; }

    std::vector<std::string> names() const {
        std::vector<std::string> names;
        for (const auto& entry : std::filesystem::directory_iterator(path_)) {
            names.push_back(entry.path().filename().string());
        }
        std::ranges::sort(names);
        return names;
    }

    /// Writes without any of the care under test.
    std::string write(const std::string& name, const std::string& text) const {
        std::ofstream(path_ / name) << text;
        return (path_ / name).string();
    }
    std::string read(const std::string& name) const {
        std::ostringstream text;
        text << std::ifstream(path_ / name).rdbuf();
        return text.str();
    }

  private:
    std::filesystem::path path_;
};

}  // namespace echoloom
