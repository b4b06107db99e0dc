#include "sim/base/atomic_file.h"

#include <gtest/gtest.h>
#include <sys/resource.h>
#include <sys/wait.h>

#include <csignal>
#include <functional>

#include "tests/base/message.h"
#include "tests/base/temporary_folder.h"

namespace echoloom {
namespace {

/// Runs `work` in a process of its own and gives its wait status.
int in_child(const std::function<void()>& work) {
    const pid_t child = fork();
    if (child == 0) {
        work();
        _exit(0);
    }
    int status = 0;
    waitpid(child, &status, 0);
    return status;
}

using Names = std::vector<std::string>;

TEST(AtomicFile, AppearsOnlyWhenCommitted) {
    const TemporaryFolder folder;
    AtomicFile output(folder / "sub/result.txt");
    std::ofstream(output.temporary()) << "whole";
    EXPECT_FALSE(std::filesystem::exists(folder / "sub/result.txt"));
    EXPECT_EQ(output.temporary().parent_path(), folder / "sub");
    output.commit();
    EXPECT_EQ(folder.read("sub/result.txt"), "whole");
    EXPECT_EQ(folder.names(), Names{"sub"});
}

TEST(AtomicFile, LeavesNothingWhereTheWorkThrows) {
    const TemporaryFolder folder;
    folder.write("result.txt", "before");
    try {
        const AtomicFile output(folder / "result.txt");
        std::ofstream(output.temporary()) << "half";
        throw InputError("stop");
    } catch (const InputError&) {
    }
    EXPECT_EQ(folder.names(), Names{"result.txt"});
    EXPECT_EQ(folder.read("result.txt"), "before");
}

TEST(AtomicFile, KilledWorkLeavesTheFinalNameAlone) {
    const TemporaryFolder folder;
    folder.write("result.txt", "before");
    const int status = in_child([&] {
        const AtomicFile output(folder / "result.txt");
        std::ofstream(output.temporary()) << "half" << std::flush;
        raise(SIGKILL);
    });
    EXPECT_TRUE(WIFSIGNALED(status));
    EXPECT_EQ(folder.read("result.txt"), "before");
}

TEST(AtomicFile, SignalHandlerCanDiscardWhatIsUnfinished) {
    const TemporaryFolder folder;
    const int status = in_child([&] {
        std::signal(SIGTERM, [](int) {
            discard_temporaries();
            _exit(130);
        });
        AtomicFile finished(folder / "finished.txt");
        finished.commit();
        AtomicFile first(folder / "first.txt");
        const AtomicFile moved(std::move(first));
        const AtomicFile second(folder / "second.txt");
        raise(SIGTERM);
    });
    EXPECT_EQ(WEXITSTATUS(status), 130);
    EXPECT_EQ(folder.names(), Names{"finished.txt"});
}

TEST(AtomicFile, MovesWithItsDuty) {
    const TemporaryFolder folder;
    {
        AtomicFile first(folder / "a.txt");
        AtomicFile second(folder / "b.txt");
        second = std::move(first);
        second.commit();
    }
    EXPECT_EQ(folder.names(), Names{"a.txt"});
}

TEST(AtomicFile, RefusesWhatCannotBeWritten) {
    const TemporaryFolder folder;
    const std::string file = folder.write("file", "");
    EXPECT_EQ(message_of([&] { write_file(folder / "file/result.txt", {}); }),
              "3 " + file + ": cannot create this folder: Not a directory");
    EXPECT_EQ(message_of([&] { write_file(folder.path(), {}); }),
              "3 " + folder.path().string() + ": cannot write: this is a folder; give a file name");
    EXPECT_EQ(message_of([] { write_file("/dev/null", {}); }),
              "3 /dev/null: cannot write: not a regular file; give a file name");
    EXPECT_TRUE(std::filesystem::is_character_file("/dev/null"));
}

TEST(AtomicFile, WritesThroughALink) {
    const TemporaryFolder folder;
    folder.write("target.txt", "before");
    std::filesystem::create_symlink("target.txt", folder / "link.txt");
    write_file(folder / "link.txt", std::string("after"));
    EXPECT_TRUE(std::filesystem::is_symlink(folder / "link.txt"));
    EXPECT_EQ(folder.read("target.txt"), "after");
}

TEST(AtomicFile, TakesTheLongestNameAFileSystemAllows) {
    const TemporaryFolder folder;
    const std::string name(255, 'x');
    write_file(folder / name, std::string("whole"));
    EXPECT_EQ(folder.read(name), "whole");
}

TEST(AtomicFile, StorageThatRunsOutIsAMachineErrorAndLeavesNothing) {
    const TemporaryFolder folder;
    const int status = in_child([&] {
        std::signal(SIGXFSZ, SIG_IGN);
        const rlimit limit{1024, 1024};
        setrlimit(RLIMIT_FSIZE, &limit);
        const std::string message = message_of([&] { write_file(folder / "big", std::string(4096, 'x')); });
        _exit(message == "3 " + (folder / "big").string() + ": cannot write: File too large" ? 0 : 1);
    });
    EXPECT_EQ(WEXITSTATUS(status), 0);
    EXPECT_EQ(folder.names(), Names{});
}

}  // namespace
}  // namespace echoloom
