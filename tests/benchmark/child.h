#pragma once
/// Other programs, run to their end: how long they took and how much memory they had at most.

#include <map>
#include <string>
#include <vector>

namespace echoloom::benchmark {

struct ChildRun {
    double seconds = 0.0;
    double peak_bytes =
        0.0;             ///< resident; the system counts what this program had at its most until now, if that is more
    std::string output;  ///< of standard output
};

/// `environment` is added to ours. Throws MachineError, with what it said, where it does not exit with 0.
ChildRun run_child(const std::vector<std::string>& command, const std::map<std::string, std::string>& environment = {});

}  // namespace echoloom::benchmark
