#pragma once
/// What the steps of a cell cost, in nanoseconds of one AVX-512 core of 2026 ("cost units" elsewhere: only ratios
/// count).

#include <cmath>

namespace echoloom {

/// Measured with perf on a full matrix of 128 elements and 100,000 scatterers: the products run at 170 GFLOP/s, the
/// expansion at 146, a step of a recurrence with its sums takes a tenth of a nanosecond a lane.
namespace cost {
inline constexpr double product_flop = 1.0 / 170.0;
inline constexpr double expand_flop = 1.0 / 146.0;
inline constexpr double plain_step = 0.05;   ///< one point, bin and lane of the full rule
inline constexpr double factor_step = 0.14;  ///< the same in float relative to the middle path, with its moment
inline constexpr double short_flop = 1.0 / 100.0;
inline constexpr double trace_sample = 0.95;  ///< transform and add, a sample of a window
inline constexpr double trace_bin = 0.6;      ///< factors, a bin of a window
inline constexpr double plan_element = 60.0;  ///< planning, an element of a cell
inline constexpr double point_start = 60.0;   ///< beginning a point, in bins
inline constexpr double record_sample = 0.6;  ///< clearing and keeping a sample of a pair
inline constexpr double transform_sample = 2.0;
inline constexpr double row_bin = 0.12;    ///< an echo's share in an event, a bin
inline constexpr double phase_bin = 0.15;  ///< direct route: a firing element's phase
inline constexpr double event_flop = 1.0 / 50.0;
inline constexpr double row_trace_bin = 2.0;
inline constexpr double row_trace_sample = 1.5;
}  // namespace cost

struct CellCost {
    double scatterers = 0.0;
    double elements = 0.0;  ///< padded
    double pairs = 0.0;
    double bins = 0.0;
    double samples = 0.0;  ///< of the window

    double direct(double points) const {
        return bins * scatterers * (cost::plain_step * points * elements + cost::product_flop * 8.0 * pairs);
    }
    /// `groups` of bins begin afresh. Each point costs some thirty steps before it runs, each bin between evaluated
    /// ones two.
    double factor(double places, double points, double used, double nodes, double stride, double groups) const {
        const double steps = stride > 1.0 ? points * (bins / stride + 8.0 * groups) + 2.0 * bins : points * bins;
        return scatterers * (cost::factor_step * places * (steps + 30.0 * points * groups) +
                             cost::short_flop * 4.0 * used * nodes * bins);
    }
    double nodes(double count, double group_bins) const {
        const double padded = 16.0 * std::ceil(count / 16.0);
        return group_bins *
               (scatterers * padded * (cost::short_flop * 16.0 + cost::product_flop * 4.0 * (padded + 16.0)) +
                cost::expand_flop * 4.0 * count * (elements * count + pairs));
    }
    /// Middle paths and products at every element.
    double products_at_elements() const {
        return bins * scatterers * (cost::short_flop * 16.0 * elements + cost::product_flop * 8.0 * pairs);
    }
    double traces() const {
        return pairs * (cost::trace_sample * samples + cost::trace_bin * bins) + cost::plan_element * elements;
    }
};

}  // namespace echoloom
