#include "sim/engine/node_groups.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "sim/engine/node_count.h"

namespace echoloom {

std::vector<BinRun> group_bins(std::span<const std::size_t> nodes) {
    constexpr int shortest = 6;  // a new group costs as much as some bins
    std::vector<BinRun> runs;
    for (const std::size_t count : nodes) {
        if (runs.empty() || runs.back().nodes != count) {
            runs.push_back({0, count});
        }
        ++runs.back().bins;
    }
    for (std::size_t i = 0; runs.size() > 1 && i < runs.size();) {
        const bool can_join_left = i > 0;
        const bool can_join_right = i + 1 < runs.size();
        if (runs[i].bins >= shortest) {
            ++i;
            continue;
        }
        const std::size_t left = can_join_left ? runs[i - 1].nodes : max_nodes * 4;
        const std::size_t right = can_join_right ? runs[i + 1].nodes : max_nodes * 4;
        const std::size_t to = left <= right ? i - 1 : i + 1;
        runs[to].bins += runs[i].bins;
        runs[to].nodes = std::max(runs[to].nodes, runs[i].nodes);
        runs.erase(runs.begin() + static_cast<std::ptrdiff_t>(i));
        i = 0;
    }
    return runs;
}

std::vector<double> chebyshev_points(std::size_t count) {
    std::vector<double> out;
    for (std::size_t m = 0; m < count; ++m) {
        out.push_back(
            std::cos((2.0 * static_cast<double>(m) + 1.0) * std::numbers::pi / (2.0 * static_cast<double>(count))));
    }
    return out;
}

namespace {

/// Barycentric interpolation from Chebyshev nodes of the first kind (J.-P. Berrut & L. N. Trefethen, SIAM Review 46,
/// 501-517, 2004, from memory): weights (-1)^m sin((2m+1) pi / (2n)).
class Barycentric {
  public:
    explicit Barycentric(std::size_t count) : nodes_(chebyshev_points(count)), row_(count) {
        for (std::size_t m = 0; m < count; ++m) {
            const double angle =
                (2.0 * static_cast<double>(m) + 1.0) * std::numbers::pi / (2.0 * static_cast<double>(count));
            weights_.push_back((m % 2 == 0 ? 1.0 : -1.0) * std::sin(angle));
        }
    }
    std::span<const double> nodes() const { return nodes_; }
    /// The weights of the nodes' values at `t`.
    std::span<const double> at(double t) {
        double total = 0.0;
        for (std::size_t m = 0; m < nodes_.size(); ++m) {
            if (t == nodes_[m]) {
                std::fill(row_.begin(), row_.end(), 0.0);
                row_[m] = 1.0;
                return row_;
            }
            row_[m] = weights_[m] / (t - nodes_[m]);
            total += row_[m];
        }
        for (double& value : row_) {
            value /= total;
        }
        return row_;
    }

  private:
    std::vector<double> nodes_;
    std::vector<double> weights_;
    std::vector<double> row_;
};

}  // namespace

NodeGroup make_group(const EngineContext& context, const RowCurve& curve, const CellMiddle& middle, const BinRun& run,
                     int first_bin, const WindowPlan& cell, std::size_t used) {
    const ElementArrays& elements = context.elements;
    const UnitRange range(curve);
    Barycentric nodes(run.nodes);
    NodeGroup out;
    out.nodes = run.nodes;
    out.elements = faces_at(curve, elements, range.outside(nodes.nodes()));
    out.plan.first_bin = first_bin;
    out.plan.bins = run.bins;
    out.plan.bin_Hz = cell.bin_Hz;
    out.plan.linear_attenuation = cell.linear_attenuation;
    const Vec3 elevation(elements.elevation_x[0], elements.elevation_y[0], elements.elevation_z[0]);
    const std::size_t stride = out.elements.padded;
    for (std::size_t m = 0; m < stride; ++m) {
        const Vec3 at(out.elements.center_x[m], out.elements.center_y[m], out.elements.center_z[m]);
        const double path = std::sqrt(in_plane_square(middle.at - at, elevation) + middle.square);
        out.plan.reference_path_m.push_back(path);
        out.plan.reference_s.push_back(path / context.medium.sound_speed_m_s);
    }
    out.interpolation.assign(run.nodes * elements.padded, 0.0F);
    for (std::size_t e = 0; e < elements.count; ++e) {
        const std::span<const double> row = nodes.at(range.inside(curve.parameter(e)));
        for (std::size_t m = 0; m < run.nodes; ++m) {
            out.interpolation[(e / element_group * run.nodes + m) * element_group + e % element_group] =
                static_cast<float>(row[m]);
        }
    }
    if (used > 0) {
        Barycentric places(used);
        out.from_places.assign(used * stride, 0.0F);
        for (std::size_t m = 0; m < run.nodes; ++m) {
            const std::span<const double> row = places.at(nodes.nodes()[m]);
            for (std::size_t p = 0; p < used; ++p) {
                out.from_places[p * stride + m] = static_cast<float>(row[p]);
            }
        }
    }
    return out;
}

NodeGroup element_group_of(const EngineContext& context, const RowCurve& curve, const CellMiddle& middle,
                           const WindowPlan& cell, std::size_t used) {
    const ElementArrays& elements = context.elements;
    const UnitRange range(curve);
    NodeGroup out;
    out.nodes = elements.padded;
    out.elements = elements;
    out.plan.first_bin = cell.first_bin;
    out.plan.bins = cell.bins;
    out.plan.bin_Hz = cell.bin_Hz;
    out.plan.linear_attenuation = cell.linear_attenuation;
    const Vec3 elevation(elements.elevation_x[0], elements.elevation_y[0], elements.elevation_z[0]);
    Barycentric places(used);
    out.from_places.assign(used * elements.padded, 0.0F);
    for (std::size_t e = 0; e < elements.padded; ++e) {
        const Vec3 at(elements.center_x[e], elements.center_y[e], elements.center_z[e]);
        out.plan.reference_path_m.push_back(std::sqrt(in_plane_square(middle.at - at, elevation) + middle.square));
        out.plan.reference_s.push_back(out.plan.reference_path_m[e] / context.medium.sound_speed_m_s);
        const std::span<const double> row = places.at(range.inside(curve.parameter(std::min(e, elements.count - 1))));
        for (std::size_t p = 0; p < used; ++p) {
            out.from_places[p * elements.padded + e] = static_cast<float>(row[p]);
        }
    }
    return out;
}

}  // namespace echoloom
