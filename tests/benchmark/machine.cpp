#include "tests/benchmark/machine.h"

#include <cstdlib>
#include <fstream>

#include "tests/benchmark/roof_kernels.h"

namespace echoloom::benchmark {

namespace {

std::string processor_name() {
    std::ifstream file("/proc/cpuinfo");
    for (std::string line; std::getline(file, line);) {
        if (line.starts_with("model name") && line.find(": ") != std::string::npos) {
            return line.substr(line.find(": ") + 2);
        }
    }
    return "a processor without a name";
}

}  // namespace

Machine describe_machine(int threads) {
    Machine machine{processor_name(), threads, vector_target(), {}};
#ifndef NDEBUG
    machine.warnings.push_back("this is a debug build: no figure below means anything");
#endif
#if defined(__SANITIZE_ADDRESS__)
    machine.warnings.push_back("this build carries sanitizers: no figure below means anything");
#endif
    double load = 0.0;
    constexpr double quiet_load = 0.3;
    if (getloadavg(&load, 1) == 1 && load > quiet_load) {
        machine.warnings.push_back("the machine was busy before we began: load " + in_words(load, "processes"));
    }
    return machine;
}

void warn_of_spread(const Report& report, Machine& machine) {
    constexpr double widest = 1.25;
    std::string rows;
    int count = 0;
    for (const Row& row : report.rows()) {
        if (row.value.least > 0.0 && row.value.most > widest * row.value.least) {
            ++count;
            rows += (rows.empty() ? "" : "; ") + row.stage + ", " + row.workload;
        }
    }
    if (count > 0) {
        machine.warnings.push_back(std::to_string(count) + " rows spread by more than a quarter: " + rows);
    }
}

}  // namespace echoloom::benchmark
