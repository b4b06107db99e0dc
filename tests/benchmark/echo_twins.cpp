#include "tests/benchmark/bench.h"
namespace echoloom::benchmark {
void measure_echo_twins(Bench&) {}
}  // namespace echoloom::benchmark
