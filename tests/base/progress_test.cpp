#include "sim/base/progress.h"

#include <gtest/gtest.h>
#include <pty.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cstdlib>
#include <thread>

namespace echoloom {
namespace {

using namespace std::chrono_literals;

void work(bool quiet, std::chrono::milliseconds step = 40ms) {
    Progress progress("echoes", 20, quiet);
    for (int i = 0; i < 20; ++i) {
        std::this_thread::sleep_for(step);
        progress.advance();
    }
}

TEST(Progress, OffATerminalIsOneLinePerTenthOnStandardError) {
    testing::internal::CaptureStderr();
    testing::internal::CaptureStdout();
    work(false);
    const std::string lines = testing::internal::GetCapturedStderr();
    EXPECT_EQ(testing::internal::GetCapturedStdout(), "");
    EXPECT_NE(lines.find("echoes: 80 %, "), std::string::npos) << lines;
    EXPECT_NE(lines.find(" left\n"), std::string::npos) << lines;
    EXPECT_NE(lines.find("echoes: done in "), std::string::npos) << lines;
    EXPECT_EQ(lines.find('\r'), std::string::npos);
    EXPECT_LE(std::ranges::count(lines, '\n'), 10);
    EXPECT_TRUE(std::ranges::all_of(lines, [](char c) { return c == '\n' || (c >= ' ' && c <= '~'); }));
}

TEST(Progress, IsSilentWhereAskedOrSoonDone) {
    testing::internal::CaptureStderr();
    work(true);
    work(false, 1ms);
    EXPECT_EQ(testing::internal::GetCapturedStderr(), "");
}

/// What a terminal of the given kind receives.
std::string on_terminal(const char* kind) {
    int terminal = -1;
    const pid_t child = forkpty(&terminal, nullptr, nullptr, nullptr);
    if (child == 0) {
        setenv("TERM", kind, 1);
        work(false);
        _exit(0);
    }
    std::string received;
    std::array<char, 256> buffer{};
    for (ssize_t count = 0; (count = read(terminal, buffer.data(), buffer.size())) > 0;) {
        received.append(buffer.data(), static_cast<std::size_t>(count));
    }
    waitpid(child, nullptr, 0);
    close(terminal);
    return received;
}

TEST(Progress, OnATerminalIsABarWithTimeLeftThatIsClearedAtTheEnd) {
    const std::string received = on_terminal("xterm");
    EXPECT_NE(received.find("\rechoes  ==="), std::string::npos) << received;
    EXPECT_NE(received.find(" s left"), std::string::npos) << received;
    EXPECT_TRUE(received.ends_with("\r\x1b[K")) << received;
}

TEST(Progress, OnADumbTerminalIsPlainLines) {
    const std::string received = on_terminal("dumb");
    EXPECT_EQ(received.find('\x1b'), std::string::npos) << received;
    EXPECT_NE(received.find("echoes: 80 %, "), std::string::npos) << received;
}

}  // namespace
}  // namespace echoloom
