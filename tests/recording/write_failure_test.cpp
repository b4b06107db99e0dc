/// A write that fails does not spoil later ones in the same program. check_write_failures.py tests how a program ends.

#include <gtest/gtest.h>
#include <sys/resource.h>

#include <csignal>

#include "sim/base/error.h"
#include "tests/base/temporary_folder.h"
#include "tests/recording/sample.h"

namespace echoloom::recording_tests {
namespace {

/// Files may not grow beyond a size while this lives; writing then fails with EFBIG.
class FileSizeLimit {
  public:
    explicit FileSizeLimit(rlim_t max_bytes) : handler_(std::signal(SIGXFSZ, SIG_IGN)) {
        getrlimit(RLIMIT_FSIZE, &before_);
        const rlimit limit{max_bytes, before_.rlim_max};
        setrlimit(RLIMIT_FSIZE, &limit);
    }
    ~FileSizeLimit() {
        setrlimit(RLIMIT_FSIZE, &before_);
        std::signal(SIGXFSZ, handler_);
    }
    FileSizeLimit(const FileSizeLimit&) = delete;
    FileSizeLimit& operator=(const FileSizeLimit&) = delete;
    FileSizeLimit(FileSizeLimit&&) = delete;
    FileSizeLimit& operator=(FileSizeLimit&&) = delete;

  private:
    rlimit before_{};
    void (*handler_)(int);
};

TEST(WriteFailure, LaterWritesInTheSameProgramAreWhole) {
    const TemporaryFolder folder;
    write(small_sample(), folder / "first.h5");
    const std::string expected = folder.read("first.h5");
    for (rlim_t most = 50; most < expected.size(); most += 700) {
        {
            const FileSizeLimit limit(most);
            EXPECT_THROW(write(small_sample(), folder / "out.h5"), MachineError) << most;
        }
        EXPECT_EQ(folder.names(), std::vector<std::string>{"first.h5"}) << most;
        write(small_sample(), folder / "first.h5");
        EXPECT_EQ(folder.read("first.h5"), expected) << most;
        EXPECT_TRUE(RecordingReader(folder / "first.h5").verify()) << most;
    }
}

}  // namespace
}  // namespace echoloom::recording_tests
