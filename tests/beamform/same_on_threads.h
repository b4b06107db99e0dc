#pragma once
/// Bit-identity of a reconstruction on any number of threads.

#include <gtest/gtest.h>
#include <omp.h>

#include <vector>

#include "tests/beamform/synthetic.h"

namespace echoloom::testing {

/// Forms the image with 1, 2 and 3 threads and expects the same bits.
inline void expect_same_on_any_threads(const Synthetic& recording, const Recipe& recipe) {
    const int threads_before = omp_get_max_threads();
    std::vector<Beamformed> formed;
    for (const int threads : {1, 2, 3}) {
        omp_set_num_threads(threads);
        formed.push_back(beamform(recording.info, recording.reader(), recipe));
    }
    omp_set_num_threads(threads_before);
    EXPECT_EQ(formed[0].real, formed[1].real);
    EXPECT_EQ(formed[0].imaginary, formed[1].imaginary);
    EXPECT_EQ(formed[0].real, formed[2].real);
    EXPECT_EQ(formed[0].imaginary, formed[2].imaginary);
}

}  // namespace echoloom::testing
