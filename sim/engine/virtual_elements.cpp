#include "sim/engine/virtual_elements.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <numeric>

#include "sim/engine/cell_cost.h"
#include "sim/engine/node_count.h"
#include "sim/engine/node_groups.h"
#include "sim/engine/product.h"

namespace echoloom {

namespace {

/// Fewest whole groups of nodes whose root mean square error over the cell's scatterers is within `tolerance`.
std::size_t needed_nodes(const CellView& view, double wavenumber, double tolerance) {
    for (std::size_t nodes = node_group;; nodes += node_group) {
        double square = 0.0;
        for (std::size_t i = 0; i < CellView::classes; ++i) {
            const double slope = view.steepest * static_cast<double>(i + 1) / CellView::classes;
            square += view.energy[i] * std::pow(interpolation_error(wavenumber * slope, nodes), 2);
        }
        if (square <= tolerance * tolerance || nodes > max_nodes) {
            return nodes;
        }
    }
}

/// Frequency and weight of every bin: how much an error there counts in the echo.
struct BinWeights {
    std::vector<double> frequency_Hz;
    std::vector<double> weight;  ///< of the strongest bin 1
};

BinWeights weigh_bins(const EngineContext& context, const WindowPlan& plan) {
    const double path = 2.0 * *std::min_element(plan.reference_path_m.begin(), plan.reference_path_m.end());
    BinWeights out;
    double most = 0.0;
    for (int k = 0; k < plan.bins; ++k) {
        const double f = (plan.first_bin + k) * plan.bin_Hz;
        const double weight = std::abs(context.band.spectrum(f)) * std::exp(-context.medium.attenuation_Np_m(f) * path);
        out.frequency_Hz.push_back(f);
        out.weight.push_back(weight);
        most = std::max(most, weight);
    }
    for (double& weight : out.weight) {
        weight = std::max(weight / most, 1e-9);
    }
    return out;
}

std::size_t padded(std::size_t nodes) {
    return (nodes + element_group - 1) / element_group * element_group;
}

/// Decides how the face factor is computed, and says what it costs.
struct FactorChoice {
    FaceFactorPlan plan;
    double cost = 0.0;
};

FactorChoice choose_factor(const EngineContext& context, const RowCurve& curve, const CellView& view,
                           const BinWeights& weights, const WindowPlan& plan, const Box& box, const CellCost& cost,
                           double mean_nodes, double mean_padded, double groups, double tolerance,
                           double mixed_tolerance) {
    const double c = context.medium.sound_speed_m_s;
    std::size_t used = 2;
    for (std::size_t k = 0; k < weights.weight.size(); ++k) {
        const double wavenumber = 2.0 * std::numbers::pi * weights.frequency_Hz[k] / c;
        const double bin_tolerance = std::min(tolerance / 3.0 / weights.weight[k], 0.5);
        used = std::max(used, nodes_for_phase(wavenumber * (view.elevation + view.lateral), bin_tolerance));
    }
    FactorChoice out;
    const UnitRange range(curve);
    const ElementArrays places = faces_at(curve, context.elements, range.outside(chebyshev_points(used)));
    const FaceSampling faces = sample_faces(places, box, plan.wavenumber, context.tolerance);
    out.plan.lateral_points = *std::max_element(faces.lateral_points.begin(), faces.lateral_points.end());
    out.plan.elevation_points = faces.elevation_points;
    const double turn = plan.wavenumber * view.mixed;
    // The next order of the mixed term, with the means of its factors' powers over the face.
    if (out.plan.lateral_points == 1 || turn * turn / 18.0 <= mixed_tolerance) {
        out.plan.mixed_order = 1;
    } else if (turn * turn * turn / 100.0 <= mixed_tolerance) {
        out.plan.mixed_order = 2;
    }
    const double lens_s = std::abs(lens_delay_s(places.elevation_focus_m, places.half_height[0], c));
    const double bin_turn = 2.0 * std::numbers::pi * plan.bin_Hz * (view.excess / c + lens_s);
    out.plan.coarse_turn = coarse_turn(tolerance / 6.0);
    const double stride = out.plan.coarse_turn / bin_turn;
    out.plan.bin_stride = stride < 2.0 ? 1 : static_cast<int>(std::min(stride, 16.0));
    const int lateral = out.plan.lateral_points;
    const int elevation = out.plan.elevation_points;
    const double points = out.plan.mixed_order > 0 ? elevation + (lateral > 1 ? lateral : 0) : elevation * lateral;
    const double interpolated = cost.factor(static_cast<double>(places.padded), points, static_cast<double>(used),
                                            mean_nodes, out.plan.bin_stride, 1.0);
    const double at_nodes = cost.factor(mean_padded, points, 0.0, mean_nodes, out.plan.bin_stride, groups);
    out.cost = std::min(interpolated, at_nodes);
    if (interpolated < at_nodes) {
        out.plan.places = places;
        out.plan.used = used;
    }
    return out;
}

}  // namespace

std::size_t VirtualElements::strip_values() const {
    return std::accumulate(groups.begin(), groups.end(), std::size_t{0}, [](std::size_t sum, const NodeGroup& group) {
        return sum + static_cast<std::size_t>(group.plan.bins) * group.nodes * strip_rows;
    });
}

namespace {

/// How a cell would be computed, before anything is laid out.
struct Choice {
    double cost = 0.0;
    bool virtual_elements = false;
    bool at_elements = false;
    CellMiddle middle;
    std::optional<RowCurve> curve;
    std::vector<BinRun> runs;
    FaceFactorPlan factor;
};

Choice choose(const EngineContext& context, std::span<const Scatterer> cell, const CellCost& cost,
              const WindowPlan& plan) {
    const ElementArrays& elements = context.elements;
    Choice out;
    out.cost = cost.direct(plan.faces.max_points());
    constexpr double worth_planning_ns = 2e5;
    if (out.cost < worth_planning_ns) {
        return out;
    }
    const std::vector<Sight> sights = sights_of(elements, cell);
    out.middle = middle_of(sights);
    out.curve = RowCurve::seen_from(context, out.middle.at, out.middle.square);
    if (!out.curve) {
        return out;
    }
    const CellView view = view_cell(*out.curve, elements, sights, cell, out.middle);
    const BinWeights weights = weigh_bins(context, plan);
    const ResponseLevel level = response_level(context, *out.curve, sights, cell);
    const double tolerance = context.tolerance * level.whole;
    std::vector<std::size_t> needed;
    for (std::size_t k = 0; k < weights.weight.size(); ++k) {
        const double wavenumber = 2.0 * std::numbers::pi * weights.frequency_Hz[k] / context.medium.sound_speed_m_s;
        needed.push_back(needed_nodes(view, wavenumber, tolerance / weights.weight[k]));
    }
    out.runs = group_bins(needed);
    double work = 0.0;
    double mean_nodes = 0.0;
    double mean_padded = 0.0;
    bool fewer = true;
    for (const BinRun& run : out.runs) {
        fewer = fewer && run.nodes + node_group <= elements.padded;
        work += cost.nodes(static_cast<double>(run.nodes), run.bins);
        mean_nodes += static_cast<double>(run.nodes) * run.bins / cost.bins;
        mean_padded += static_cast<double>(padded(run.nodes)) * run.bins / cost.bins;
    }
    const auto factor_for = [&](double nodes, double padded_nodes, double groups) {
        return choose_factor(context, *out.curve, view, weights, plan, upper_box(cell), cost, nodes, padded_nodes,
                             groups, tolerance, context.tolerance * level.elevation);
    };
    if (fewer) {
        const FactorChoice factor = factor_for(mean_nodes, mean_padded, static_cast<double>(out.runs.size()));
        if (work + factor.cost < out.cost) {
            out.virtual_elements = true;
            out.cost = work + factor.cost;
            out.factor = factor.plan;
        }
    }
    // Few scatterers: no fewer elements, but the face factor all the same.
    const FactorChoice factor = factor_for(cost.elements, cost.elements, 1.0);
    const double at_elements = factor.cost + cost.products_at_elements();
    if (factor.plan.used > 0 && at_elements < out.cost) {
        out.virtual_elements = true;
        out.at_elements = true;
        out.cost = at_elements;
        out.factor = factor.plan;
        out.runs = {{plan.bins, elements.padded}};
    }
    return out;
}

CellCost cost_of(const EngineContext& context, double scatterers, std::size_t pairs, const WindowPlan& plan) {
    return {scatterers, static_cast<double>(context.elements.padded), static_cast<double>(pairs),
            static_cast<double>(plan.bins), static_cast<double>(plan.length)};
}

}  // namespace

double cell_cost(const EngineContext& context, std::span<const Scatterer> cell, double scatterers, std::size_t pairs) {
    const WindowPlan plan = plan_window(context, cell);
    const CellCost cost = cost_of(context, scatterers, pairs, plan);
    return choose(context, cell, cost, plan).cost + cost.traces();
}

std::optional<VirtualElements> plan_virtual_elements(const EngineContext& context, std::span<const Scatterer> cell,
                                                     std::size_t pairs, WindowPlan& plan) {
    const ElementArrays& elements = context.elements;
    const Choice choice = choose(context, cell, cost_of(context, static_cast<double>(cell.size()), pairs, plan), plan);
    if (!choice.virtual_elements) {
        return std::nullopt;
    }
    const CellMiddle& middle = choice.middle;
    VirtualElements out;
    out.factor = choice.factor;
    out.at_elements = choice.at_elements;
    out.targets = elements.padded;
    int first_bin = plan.first_bin;
    for (const BinRun& run : choice.runs) {
        out.groups.push_back(
            choice.at_elements ? element_group_of(context, *choice.curve, middle, plan, choice.factor.used)
                               : make_group(context, *choice.curve, middle, run, first_bin, plan, choice.factor.used));
        first_bin += run.bins;
    }
    const Vec3 elevation(elements.elevation_x[0], elements.elevation_y[0], elements.elevation_z[0]);
    plan.residual_s.resize(elements.padded);
    for (std::size_t e = 0; e < elements.count; ++e) {
        const Vec3 at(elements.center_x[e], elements.center_y[e], elements.center_z[e]);
        plan.reference_path_m[e] = std::sqrt(in_plane_square(middle.at - at, elevation) + middle.square);
        plan.residual_s[e] = plan.reference_path_m[e] / context.medium.sound_speed_m_s - plan.reference_s[e];
    }
    return out;
}

}  // namespace echoloom
