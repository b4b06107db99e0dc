#pragma once
/// Two pieces of work at the same time.

#include <omp.h>

#include <algorithm>
#include <utility>

#include "sim/base/parallel.h"

namespace echoloom {

/// Runs `here` on the calling thread and `beside` on another, or after it where the program may use one thread only.
/// Returns when both are done; throws what the first to fail threw.
template <class Here, class Beside>
void side_by_side(Here&& here, Beside&& beside) {
    FirstFailure failure;
#pragma omp parallel num_threads(std::min(2, omp_get_max_threads()))
    {
        if (omp_get_thread_num() == 0) {
            failure.run(here);
        }
        if (omp_get_thread_num() == omp_get_num_threads() - 1) {
            failure.run(beside);
        }
    }
    failure.rethrow();
}

}  // namespace echoloom
