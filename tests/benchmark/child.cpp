#include "tests/benchmark/child.h"

#include <spawn.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <array>
#include <chrono>

#include "sim/base/error.h"

namespace echoloom::benchmark {

namespace {

std::vector<char*> pointers(std::vector<std::string>& words) {
    std::vector<char*> out;
    out.reserve(words.size() + 1);
    for (std::string& word : words) {
        out.push_back(word.data());
    }
    out.push_back(nullptr);
    return out;
}

std::vector<std::string> environment_with(const std::map<std::string, std::string>& more) {
    std::vector<std::string> out;
    for (char** entry = environ; *entry != nullptr; ++entry) {
        const std::string text = *entry;
        if (!more.contains(text.substr(0, text.find('=')))) {
            out.push_back(text);
        }
    }
    for (const auto& [name, value] : more) {
        out.push_back(name);
        out.back() += '=';
        out.back() += value;
    }
    return out;
}

std::string read_all(int descriptor) {
    std::string text;
    std::array<char, 4096> buffer{};
    for (ssize_t count = 0; (count = read(descriptor, buffer.data(), buffer.size())) > 0;) {
        text.append(buffer.data(), static_cast<std::size_t>(count));
    }
    return text;
}

}  // namespace

ChildRun run_child(const std::vector<std::string>& command, const std::map<std::string, std::string>& environment) {
    std::vector<std::string> words = command;
    std::vector<std::string> variables = environment_with(environment);
    std::array<int, 2> pipe_ends{};
    if (pipe(pipe_ends.data()) != 0) {
        throw MachineError("no pipe to be had for " + command.front());
    }
    posix_spawn_file_actions_t actions;
    posix_spawn_file_actions_init(&actions);
    posix_spawn_file_actions_adddup2(&actions, pipe_ends[1], STDOUT_FILENO);
    posix_spawn_file_actions_addclose(&actions, pipe_ends[0]);
    posix_spawn_file_actions_addclose(&actions, pipe_ends[1]);

    const auto start = std::chrono::steady_clock::now();
    pid_t child = 0;
    const int failed = posix_spawnp(&child, words.front().c_str(), &actions, nullptr, pointers(words).data(),
                                    pointers(variables).data());
    posix_spawn_file_actions_destroy(&actions);
    close(pipe_ends[1]);
    ChildRun run;
    run.output = failed == 0 ? read_all(pipe_ends[0]) : "";
    close(pipe_ends[0]);
    int status = 0;
    rusage usage{};
    if (failed != 0 || wait4(child, &status, 0, &usage) != child || !WIFEXITED(status) || WEXITSTATUS(status) != 0) {
        throw MachineError("a program that is measured failed: " + command.front() + ' ' +
                           (command.size() > 1 ? command[1] : "") + "\n" + run.output);
    }
    run.seconds = std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
    run.peak_bytes = 1024.0 * static_cast<double>(usage.ru_maxrss);
    return run;
}

}  // namespace echoloom::benchmark
