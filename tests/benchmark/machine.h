#pragma once
/// What is measured on, and what speaks against believing it.

#include "tests/benchmark/report.h"

namespace echoloom::benchmark {

/// Call before measuring: other load is told from our own by it.
Machine describe_machine(int threads);
/// Call after: adds rows whose spread is too wide.
void warn_of_spread(const Report& report, Machine& machine);

}  // namespace echoloom::benchmark
