#pragma once
/// The echoes of every needed pair of elements (i, j), j >= i, in memory: one row of samples a pair.

#include <cstddef>
#include <cstdint>
#include <span>
#include <vector>

#include "sim/array/scan.h"
#include "sim/base/large_vector.h"

namespace echoloom {

/// Which pairs the events need: row i keeps columns i to last[i] - 1.
struct PairMap {
    std::vector<std::size_t> last;   ///< [element]
    std::vector<std::size_t> start;  ///< [element] index of pair (i, i); one more entry holds the total

    std::size_t count() const { return start.back(); }
    std::size_t index(std::size_t a, std::size_t b) const { return a <= b ? start[a] + b - a : start[b] + a - b; }
};

PairMap needed_pairs(const Scan& scan, std::size_t elements);

/// The times any event can ask of any pair, in samples: from its earliest firing to its latest, [first, last].
struct SampleRange {
    std::int64_t first = 0;
    std::int64_t last = 0;
};
SampleRange wanted_samples(const Scan& scan);

/// Samples [pair][sample]; sample 0 lies at first_sample / sampling rate. There is room beyond the wanted range for
/// whole windows, so that an echo is kept whole or left out: a cut one would ring into the range when it is delayed.
struct PairRecord {
    PairMap pairs;
    SampleRange wanted;
    std::int64_t first_sample = 0;
    std::size_t samples = 0;
    LargeVector<float> data;

    std::span<float> row(std::size_t pair) { return {data.data() + pair * samples, samples}; }
    std::span<const float> row(std::size_t pair) const { return {data.data() + pair * samples, samples}; }
};

}  // namespace echoloom
