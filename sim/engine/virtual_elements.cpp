#include "sim/engine/virtual_elements.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "sim/engine/expand.h"

namespace echoloom {

namespace {

/// A cell seen in the plane of distances: place along the row, and distance from the row's line.
struct CellView {
    double along = 0.0;        ///< of the cell's middle, from the first element
    double away = 0.0;         ///< distance of the cell's middle from the row
    double reach = 0.0;        ///< how far any scatterer and face point lies from that middle, in these coordinates
    double first_angle = 0.0;  ///< under which the middle sees the row's ends
    double last_angle = 0.0;
};

Vec3 lateral_axis(const ElementArrays& a) {
    return {a.lateral_x[0], a.lateral_y[0], a.lateral_z[0]};
}
Vec3 first_center(const ElementArrays& a) {
    return {a.center_x[0], a.center_y[0], a.center_z[0]};
}

double place_along(const ElementArrays& a, std::size_t e) {
    return (Vec3(a.center_x[e], a.center_y[e], a.center_z[e]) - first_center(a)).dot(lateral_axis(a));
}

CellView view_cell(const ElementArrays& a, std::span<const Scatterer> cell) {
    const Vec3 lateral = lateral_axis(a);
    const Vec3 elevation(a.elevation_x[0], a.elevation_y[0], a.elevation_z[0]);
    const Vec3 normal(a.normal_x[0], a.normal_y[0], a.normal_z[0]);
    double least_along = std::numeric_limits<double>::infinity();
    double most_along = -least_along;
    double least_away = least_along;
    double most_away = -least_along;
    for (const Scatterer& s : cell) {
        const Vec3 offset = Vec3(s.x_m, s.y_m, s.z_m) - first_center(a);
        const double x = offset.dot(lateral);
        const double y = std::abs(offset.dot(elevation));
        const double z = offset.dot(normal);
        least_along = std::min(least_along, x);
        most_along = std::max(most_along, x);
        least_away = std::min(least_away, std::hypot(std::max(y - a.tallest, 0.0), z));
        most_away = std::max(most_away, std::hypot(y + a.tallest, z));
    }
    CellView view;
    view.along = (least_along + most_along) / 2.0;
    view.away = (least_away + most_away) / 2.0;
    view.reach = std::hypot((most_along - least_along) / 2.0 + a.widest, (most_away - least_away) / 2.0);
    view.first_angle = std::atan2(place_along(a, 0) - view.along, view.away);
    view.last_angle = std::atan2(place_along(a, a.count - 1) - view.along, view.away);
    return view;
}

/// Nodes that interpolate exp(j a t) on [-1, 1] to about `tolerance`: a, and a margin in which the Chebyshev
/// coefficients J_n(a) die away.
std::size_t node_count(double a, double tolerance) {
    return static_cast<std::size_t>(std::ceil(a + 0.75 * -std::log(tolerance) * std::cbrt(1.0 + a)));
}

/// Flops of a cell by the direct route and by `nodes` virtual elements, per bin.
double direct_cost(double scatterers, double elements, double pairs, double points) {
    return scatterers * (8.0 * points * elements + 8.0 * pairs);
}
double node_cost(double scatterers, double elements, double pairs, double points, double nodes) {
    return scatterers * (8.0 * points * nodes + 4.0 * nodes * (nodes + 16.0)) + 4.0 * elements * nodes * nodes +
           4.0 * pairs * nodes;
}

ElementArrays elements_at(const ElementArrays& a, std::span<const double> along) {
    Probe probe;
    const Vec3 lateral = lateral_axis(a);
    probe.elevation_focus_m = a.elevation_focus_m;
    probe.baffle = a.soft ? Baffle::soft : Baffle::rigid;
    for (const double place : along) {
        Element element;
        element.center_m = first_center(a) + place * lateral;
        element.normal = Vec3(a.normal_x[0], a.normal_y[0], a.normal_z[0]);
        element.width_m = 2.0 * a.half_width[0];
        element.height_m = 2.0 * a.half_height[0];
        probe.elements.push_back(element);
    }
    return element_arrays(probe);
}

/// Barycentric interpolation from Chebyshev nodes of the first kind (J.-P. Berrut & L. N. Trefethen, SIAM Review 46,
/// 501-517, 2004, from memory): weights (-1)^m sin((2m+1) pi / (2n)).
void interpolation_row(std::span<const double> nodes, double t, std::span<double> out) {
    const std::size_t n = nodes.size();
    double total = 0.0;
    for (std::size_t m = 0; m < n; ++m) {
        if (t == nodes[m]) {
            std::fill(out.begin(), out.end(), 0.0);
            out[m] = 1.0;
            return;
        }
        const double angle = (2.0 * static_cast<double>(m) + 1.0) * std::numbers::pi / (2.0 * static_cast<double>(n));
        out[m] = (m % 2 == 0 ? 1.0 : -1.0) * std::sin(angle) / (t - nodes[m]);
        total += out[m];
    }
    for (double& value : out) {
        value /= total;
    }
}

}  // namespace

std::optional<VirtualElements> plan_virtual_elements(const EngineContext& context, std::span<const Scatterer> cell,
                                                     std::size_t pairs, WindowPlan& plan) {
    const ElementArrays& elements = context.elements;
    const CellView view = view_cell(elements, cell);
    const double c = context.medium.sound_speed_m_s;
    const double half_angle = (view.last_angle - view.first_angle) / 2.0;
    const std::size_t nodes = node_count(plan.wavenumber * view.reach * half_angle, context.tolerance / 2.0);
    const std::size_t padded = (nodes + element_group - 1) / element_group * element_group;
    const double points = plan.faces.most_points();
    const auto count = static_cast<double>(cell.size());
    const auto all = static_cast<double>(elements.padded);
    if (padded >= elements.padded ||
        node_cost(count, all, static_cast<double>(pairs), points, static_cast<double>(padded)) >
            direct_cost(count, all, static_cast<double>(pairs), points)) {
        return std::nullopt;
    }

    // All padded nodes are used: more of them cost nothing and only help.
    std::vector<double> node(padded);
    std::vector<double> along(padded);
    const double middle_angle = (view.first_angle + view.last_angle) / 2.0;
    for (std::size_t m = 0; m < padded; ++m) {
        node[m] =
            std::cos((2.0 * static_cast<double>(m) + 1.0) * std::numbers::pi / (2.0 * static_cast<double>(padded)));
        along[m] = view.along + view.away * std::tan(middle_angle + half_angle * node[m]);
    }
    VirtualElements out{elements_at(elements, along), plan, {}, elements.padded};
    out.plan.reference.assign(padded, 0);
    out.plan.reference_s.resize(padded);
    out.plan.reference_path_m.resize(padded);
    for (std::size_t m = 0; m < padded; ++m) {
        out.plan.reference_path_m[m] = std::hypot(along[m] - view.along, view.away);
        out.plan.reference_s[m] = out.plan.reference_path_m[m] / c;
    }
    out.plan.faces = sample_faces(out.elements, upper_box(cell), plan.wavenumber, context.tolerance);

    out.interpolation.assign(padded * elements.padded, 0.0F);
    std::vector<double> row(padded);
    plan.residual_s.resize(elements.padded);
    for (std::size_t e = 0; e < elements.count; ++e) {
        const double place = place_along(elements, e) - view.along;
        interpolation_row(node, (std::atan2(place, view.away) - middle_angle) / half_angle, row);
        for (std::size_t m = 0; m < padded; ++m) {
            out.interpolation[m * elements.padded + e] = static_cast<float>(row[m]);
        }
        plan.reference_path_m[e] = std::hypot(place, view.away);
        plan.residual_s[e] = plan.reference_path_m[e] / c - plan.reference_s[e];
    }
    return out;
}

namespace {

void start_strips(std::size_t nodes, std::vector<StripSums>& strips) {
    strips.resize(nodes / strip_rows);
    for (std::size_t s = 0; s < strips.size(); ++s) {
        strips[s].first_row = s * strip_rows;
        strips[s].width = nodes - strips[s].first_row;
        strips[s].last_column = nodes;
    }
}

/// From the upper half in strips to whole rows, by symmetry.
void mirror(const std::vector<StripSums>& strips, NodeSums& out) {
    for (std::size_t k = 0; k < out.bins; ++k) {
        float* re = out.real.data() + k * out.nodes * out.nodes;
        float* im = out.imaginary.data() + k * out.nodes * out.nodes;
        for (std::size_t i = 0; i < out.nodes; ++i) {
            const StripSums& strip = strips[i / strip_rows];
            const std::size_t at = strip.at(k, i % strip_rows);
            for (std::size_t j = i; j < out.nodes; ++j) {
                const std::size_t from = at + j - strip.first_row;
                re[i * out.nodes + j] = re[j * out.nodes + i] = strip.real[from];
                im[i * out.nodes + j] = im[j * out.nodes + i] = strip.imaginary[from];
            }
        }
    }
}

}  // namespace

void compute_node_sums(const EngineContext& context, const VirtualElements& virtual_elements,
                       std::span<const Scatterer> cell, NodeScratch& scratch, NodeSums& out) {
    constexpr std::size_t part = 64;
    out.nodes = virtual_elements.elements.padded;
    out.bins = static_cast<std::size_t>(virtual_elements.plan.bins);
    out.real.resize(out.bins * out.nodes * out.nodes);
    out.imaginary.resize(out.real.size());
    start_strips(out.nodes, scratch.strips);
    for (std::size_t at = 0; at < cell.size(); at += part) {
        compute_responses(context, virtual_elements.elements, virtual_elements.plan,
                          cell.subspan(at, std::min(part, cell.size() - at)), scratch.responses);
        for (StripSums& strip : scratch.strips) {
            accumulate_products(scratch.responses, at == 0, strip);
        }
    }
    mirror(scratch.strips, out);
}

void expand_node_sums(const NodeSums& sums, const VirtualElements& virtual_elements, StripSums& strip) {
    const std::size_t nodes = sums.nodes;
    const std::size_t targets = virtual_elements.padded_targets;
    const float* rows = virtual_elements.interpolation.data() + strip.first_row;
    strip.make_room(sums.bins);
    AlignedVector<float>& half = strip.half;
    half.resize(strip_rows * nodes);
    for (std::size_t k = 0; k < sums.bins; ++k) {
        for (const bool imaginary : {false, true}) {
            const float* matrix = (imaginary ? sums.imaginary : sums.real).data() + k * nodes * nodes;
            float* out = (imaginary ? strip.imaginary : strip.real).data() + strip.at(k, 0);
            multiply({rows, targets, 1, matrix, nodes, nodes, nodes, half.data(), nodes});
            multiply({half.data(), 1, nodes, rows, targets, nodes, strip.width, out, strip.width});
        }
    }
}

}  // namespace echoloom
