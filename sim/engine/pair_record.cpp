#include "sim/engine/pair_record.h"

#include <algorithm>
#include <cmath>
#include <limits>

namespace echoloom {

PairMap needed_pairs(const Scan& scan, std::size_t elements) {
    PairMap map;
    map.last.resize(elements);
    for (std::size_t i = 0; i < elements; ++i) {
        map.last[i] = i + 1;
    }
    for (const TransmitEvent& event : scan.events) {
        const auto [low, high] = std::minmax_element(event.receivers.begin(), event.receivers.end());
        for (std::size_t e = 0; e < elements; ++e) {
            if (event.weight[e] == 0.0) {
                continue;
            }
            // Pair (e, r) is kept in the row of the smaller index.
            const auto lowest = static_cast<std::size_t>(*low);
            const auto highest = static_cast<std::size_t>(*high);
            map.last[e] = std::max(map.last[e], highest + 1);
            for (std::size_t r = lowest; r < std::min(e, highest + 1); ++r) {
                map.last[r] = std::max(map.last[r], e + 1);
            }
        }
    }
    map.start.assign(elements + 1, 0);
    for (std::size_t i = 0; i < elements; ++i) {
        map.start[i + 1] = map.start[i] + map.last[i] - i;
    }
    return map;
}

SampleRange wanted_samples(const Scan& scan) {
    double first = std::numeric_limits<double>::infinity();
    double last = -std::numeric_limits<double>::infinity();
    const double fs = scan.sampling_rate_Hz;
    for (const TransmitEvent& event : scan.events) {
        for (std::size_t e = 0; e < event.weight.size(); ++e) {
            if (event.weight[e] != 0.0) {
                first = std::min(first, (event.start_time_s - event.delay_s[e]) * fs);
                last = std::max(last, (event.start_time_s - event.delay_s[e]) * fs + static_cast<double>(scan.samples));
            }
        }
    }
    return {static_cast<std::int64_t>(std::floor(first)), static_cast<std::int64_t>(std::ceil(last))};
}

}  // namespace echoloom
