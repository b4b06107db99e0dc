#include "recon/measure/gnuplot.h"

#include <fcntl.h>
#include <spawn.h>
#include <sys/wait.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <cstring>

#include "sim/base/error.h"

namespace echoloom {
namespace {

/// A pipe whose ends close themselves.
struct Pipe {
    std::array<int, 2> ends{-1, -1};
    Pipe() {
        if (pipe2(ends.data(), O_CLOEXEC) != 0) throw MachineError(std::string("pipe: ") + std::strerror(errno));
    }
    ~Pipe() {
        shut(0);
        shut(1);
    }
    Pipe(const Pipe&) = delete;
    Pipe& operator=(const Pipe&) = delete;
    void shut(std::size_t end) {
        if (ends[end] >= 0) close(ends[end]);
        ends[end] = -1;
    }
};

/// What the child does between fork and exec: work in `folder`, write errors into the pipe and nothing else.
struct SpawnActions {
    posix_spawn_file_actions_t actions;
    SpawnActions(const std::filesystem::path& folder, int complaints) {
        posix_spawn_file_actions_init(&actions);
        posix_spawn_file_actions_addchdir_np(&actions, folder.c_str());
        posix_spawn_file_actions_addopen(&actions, STDIN_FILENO, "/dev/null", O_RDONLY, 0);
        posix_spawn_file_actions_addopen(&actions, STDOUT_FILENO, "/dev/null", O_WRONLY, 0);
        posix_spawn_file_actions_adddup2(&actions, complaints, STDERR_FILENO);
    }
    ~SpawnActions() { posix_spawn_file_actions_destroy(&actions); }
    SpawnActions(const SpawnActions&) = delete;
    SpawnActions& operator=(const SpawnActions&) = delete;
};

std::string read_all(int descriptor) {
    std::string text;
    std::array<char, 4096> buffer{};
    for (;;) {
        const ssize_t got = read(descriptor, buffer.data(), buffer.size());
        if (got < 0 && errno == EINTR) continue;
        if (got <= 0) return text;
        text.append(buffer.data(), static_cast<std::size_t>(got));
    }
}

/// gnuplot prints the offending line, a caret below it, and then what is wrong: all but the carets, on one line.
std::string complaint(const std::string& text) {
    std::string said;
    for (std::size_t start = 0; start < text.size();) {
        const std::size_t end = std::min(text.find('\n', start), text.size());
        const std::size_t first = text.find_first_not_of(" ^\t\r", start);
        if (first < end) said.append(said.empty() ? "" : "; ").append(text, first, end - first);
        start = end + 1;
    }
    return said.empty() ? "it gave no reason" : said;
}

}  // namespace

std::string gnuplot_quoted(const std::string& text) {
    std::string result = "'";
    for (const char c : text) {
        if (c == '\'') result += '\'';
        result += c == '\n' ? ' ' : c;
    }
    return result + "'";
}

void run_gnuplot(const std::filesystem::path& script, const std::string& assignments) {
    Pipe complaints;
    const std::filesystem::path whole = std::filesystem::absolute(script);
    const SpawnActions actions(whole.parent_path(), complaints.ends[1]);
    std::array<std::string, 4> words{"gnuplot", "-e", assignments, whole.filename().string()};
    std::array<char*, 5> arguments{words[0].data(), words[1].data(), words[2].data(), words[3].data(), nullptr};
    pid_t child = 0;
    const int refused = posix_spawnp(&child, "gnuplot", &actions.actions, nullptr, arguments.data(), environ);
    if (refused != 0) {
        throw MachineError("gnuplot could not be started (" + std::string(std::strerror(refused)) +
                           "): install the Debian package gnuplot-nox, then run `gnuplot " + words[3] + "` in " +
                           whole.parent_path().string());
    }
    complaints.shut(1);
    const std::string text = read_all(complaints.ends[0]);
    int status = 0;
    while (waitpid(child, &status, 0) < 0 && errno == EINTR) {
    }
    if (!WIFEXITED(status) || WEXITSTATUS(status) != 0) {
        throw MachineError("gnuplot failed on " + whole.string() + ": " + complaint(text));
    }
}

}  // namespace echoloom
