// libhwy 1.0.3 measures the resolution of the processor's clock whenever it is loaded, for benchmarks of its own that
// nothing here runs: 2 to 3 ms of every command. The program's definition of a function is taken before a library's.

#include <hwy/nanobenchmark.h>

#include <cstdint>

namespace hwy::platform {

std::uint64_t TimerResolution() {
    return 1;
}

}  // namespace hwy::platform
