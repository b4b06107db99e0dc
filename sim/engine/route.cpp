#include "sim/engine/route.h"

#include <algorithm>
#include <cmath>
#include <sstream>

#include "sim/engine/cell_cost.h"
#include "sim/engine/event_route.h"

namespace echoloom {

namespace {

double firing(const TransmitEvent& event) {
    return static_cast<double>(
        std::count_if(event.weight.begin(), event.weight.end(), [](double weight) { return weight != 0.0; }));
}

}  // namespace

std::string RouteCosts::words(Route taken) const {
    const bool direct = taken == Route::direct;
    std::ostringstream out;
    out.precision(2);
    out << (direct ? "route: each event directly"
                   : "route: the matrix of all pairs of elements, then events as sums of its rows")
        << "; predicted cost " << (direct ? direct_s : matrix_s) << " against " << (direct ? matrix_s : direct_s)
        << " by " << (direct ? "the matrix of all pairs" : "each event directly")
        << " (seconds of one core where the engine was measured)";
    return out.str();
}

double matrix_fixed_cost_ns(const Scan& scan, std::size_t pairs, std::size_t samples, double bins, bool plain_rows) {
    const double record = static_cast<double>(pairs) * static_cast<double>(samples);
    const auto channels = static_cast<double>(scan.channels());
    double sums = 0.0;
    for (const TransmitEvent& event : scan.events) {
        sums += firing(event) * channels * bins;
    }
    const double rows = static_cast<double>(scan.events.size()) * channels * static_cast<double>(scan.samples);
    return plain_rows ? cost::record_sample * record
                      : (cost::record_sample + cost::transform_sample) * record + cost::row_bin * sums +
                            cost::transform_sample * rows;
}

double direct_cost_ns(const EngineContext& context, const Box& bounds, double scatterers, double cell_size_m,
                      const Scan& scan, double blocks) {
    const Vec3 size = bounds.most - bounds.least;
    const double places = std::max(1.0, size.x() / cell_size_m) * std::max(1.0, size.z() / cell_size_m);
    const double cells = std::min(scatterers, places);
    const double each = scatterers / cells;
    const auto elements = static_cast<double>(context.elements.padded);
    const auto channels = static_cast<double>(scan.channels());
    double fires = 0.0;
    for (const TransmitEvent& event : scan.events) {
        fires += firing(event) / static_cast<double>(scan.events.size());
    }
    double sum = 0.0;
    constexpr double parts[] = {0.1, 0.5, 0.9};
    for (const double part : parts) {
        const Vec3 at = bounds.least + part * size;
        const Scatterer middle{at.x(), at.y(), at.z(), 1.0};
        const WindowPlan plan = plan_event_window(context, scan, {&middle, 1});
        const double bins = plan.bins;
        const double responses =
            each * elements * plan.faces.max_points() * cost::plain_step * (bins + cost::point_start);
        const double event = bins * (fires * cost::phase_bin + each * 8.0 * cost::event_flop * (fires + channels)) +
                             channels * (cost::row_trace_bin * bins + cost::row_trace_sample * plan.length);
        sum += cells * (blocks * responses + static_cast<double>(scan.events.size()) * event);
    }
    return sum / static_cast<double>(std::size(parts));
}

}  // namespace echoloom
