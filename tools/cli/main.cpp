// The command `echoloom`: reads the command line, runs one command, and turns whatever went wrong into one line and
// an exit code.

#include <omp.h>
#include <unistd.h>

#include <csignal>
#include <cstdio>
#include <cstring>
#include <exception>
#include <new>
#include <string>
#include <type_traits>

#include "sim/base/atomic_file.h"
#include "sim/base/error.h"
#include "tools/cli/commands.h"

namespace {

/// Ctrl-C and the like: nothing half-written stays. Calls only what a signal handler may call.
extern "C" void leave(int signal) {
    echoloom::discard_temporaries();
    constexpr const char* text = "\nerror: interrupted; no unfinished file is left behind\n";
    [[maybe_unused]] const ssize_t ignored = write(STDERR_FILENO, text, std::strlen(text));
    _exit(128 + signal);
}

void leave_cleanly_when_told() {
    for (const int signal : {SIGINT, SIGTERM, SIGHUP}) {
        struct sigaction action = {};
        action.sa_handler = leave;
        sigfillset(&action.sa_mask);
        struct sigaction before = {};
        sigaction(signal, &action, &before);
        if (before.sa_handler == SIG_IGN) {  // as nohup asks
            sigaction(signal, &before, nullptr);
        }
    }
    // A full pipe, file or disk is reported by the call that met it.
    std::signal(SIGPIPE, SIG_IGN);
    std::signal(SIGXFSZ, SIG_IGN);
}

int fail(const std::string& message, int exit_code) {
    std::fprintf(stderr, "error: %s\n", echoloom::at({}, message).c_str());
    return exit_code;
}

/// Most commands either succeed or throw; some answer by their exit code.
template <typename Options>
int exit_code_of(const Options& options) {
    if (options.threads > 0) {
        omp_set_num_threads(options.threads);
    }
    if constexpr (std::is_void_v<decltype(echoloom::run(options))>) {
        echoloom::run(options);
        return 0;
    } else {
        return echoloom::run(options);
    }
}

}  // namespace

int main(int argc, char** argv) {
    constexpr int machine_refused = 3;
    leave_cleanly_when_told();
    try {
        if (const auto command = echoloom::read_command_line(argc, argv)) {
            return std::visit([](const auto& options) { return exit_code_of(options); }, *command);
        }
        return 0;
    } catch (const echoloom::Error& error) {
        return fail(error.what(), error.exit_code());
    } catch (const std::bad_alloc&) {
        return fail("the machine has no memory left for this; close other programs or ask for less", machine_refused);
    } catch (const std::exception& error) {
        return fail(std::string("unexpected: ") + error.what() + "; please report this with the command line",
                    machine_refused);
    }
}
