#include "tests/benchmark/bench.h"
namespace echoloom::benchmark {
void measure_image_twins(Bench&) {}
}  // namespace echoloom::benchmark
