#include "sim/engine/virtual_elements.h"

#include <Eigen/Geometry>
#include <algorithm>
#include <array>
#include <cmath>
#include <complex>
#include <numbers>
#include <numeric>

#include "sim/engine/cell_cost.h"
#include "sim/engine/node_count.h"
#include "sim/engine/product.h"
#include "sim/engine/row_curve.h"

namespace echoloom {

namespace {

/// One scatterer as a row sees it.
struct Sight {
    Vec3 at;
    double middle_square;  ///< of the height its middle path runs to
    double face_square;    ///< half the range of square distances over the face's height
};

/// How fast paths from a cell turn along the row, in metres per half of the parameter's range.
struct CellView {
    static constexpr std::size_t classes = 16;
    double steepest = 0.0;                 ///< of any path against that of the cell's middle
    std::array<double, classes> energy{};  ///< of paths by that slope, in equal steps, sums to 1
    double elevation = 0.0;                ///< of what a point of the face adds along elevation
    double lateral = 0.0;                  ///< and laterally
    double excess = 0.0;                   ///< greatest path that the face adds, in metres
    double mixed = 0.0;                    ///< greatest xi (R / R_q - 1)
};

std::vector<Sight> sights_of(const ElementArrays& a, std::span<const Scatterer> cell) {
    const Vec3 elevation(a.elevation_x[0], a.elevation_y[0], a.elevation_z[0]);
    const Vec3 origin(a.center_x[0], a.center_y[0], a.center_z[0]);
    std::vector<Sight> out;
    for (const Scatterer& s : cell) {
        const Vec3 at(s.x_m, s.y_m, s.z_m);
        const double offset = std::abs((at - origin).dot(elevation));
        const double middle = middle_square(offset, a.half_height[0]);
        out.push_back({at, middle, std::pow(offset + a.half_height[0], 2) - middle});
    }
    return out;
}

double in_plane_square(const Vec3& offset, const Vec3& elevation) {
    const double y = offset.dot(elevation);
    return offset.squaredNorm() - y * y;
}

/// Slopes of middle paths and what the face adds to them, evenly between both its ends, by energy. (The mean over a
/// face of amplitudes is at most that of their squares.)
void sort_slopes(std::span<const double> slope, std::span<const Scatterer> cell, CellView& view) {
    const double face = view.elevation + view.lateral;
    view.steepest = *std::max_element(slope.begin(), slope.end()) + face;
    double all = 0.0;
    for (std::size_t s = 0; s < cell.size(); ++s) {
        const double energy = std::max(cell[s].strength_m * cell[s].strength_m, 1e-300);
        for (const double part : {-0.75, -0.5, -0.25, 0.0, 0.25, 0.5, 0.75, 1.0}) {
            const double share = view.steepest > 0.0 ? std::abs(slope[s] + part * face) / view.steepest : 0.0;
            const auto index = static_cast<std::size_t>(share * CellView::classes);
            view.energy[std::min(CellView::classes - 1, index)] += energy / 8.0;
        }
        all += energy;
    }
    for (double& energy : view.energy) {
        energy /= all;
    }
}

CellView view_cell(const RowCurve& curve, const ElementArrays& a, std::span<const Sight> sights,
                   std::span<const Scatterer> cell, const Vec3& middle, double middle_square) {
    constexpr std::size_t samples = 13;
    const double step = (curve.last - curve.first) / static_cast<double>(samples - 1);
    const double per_half_range = static_cast<double>(samples - 1) / 2.0;
    const Vec3 elevation(a.elevation_x[0], a.elevation_y[0], a.elevation_z[0]);
    std::array<Element, samples> face;
    std::array<Vec3, samples> lateral;
    std::array<double, samples> reference;
    for (std::size_t i = 0; i < samples; ++i) {
        face[i] = curve.face(curve.first + static_cast<double>(i) * step);
        lateral[i] = elevation.cross(face[i].normal);
        reference[i] = std::sqrt(in_plane_square(middle - face[i].center_m, elevation) + middle_square);
    }
    CellView view;
    std::vector<double> slope(sights.size());
    for (std::size_t s = 0; s < sights.size(); ++s) {
        const Sight& sight = sights[s];
        double before = 0.0;
        double inverse_before = 0.0;
        double sine_before = 0.0;
        for (std::size_t i = 0; i < samples; ++i) {
            const Vec3 offset = sight.at - face[i].center_m;
            const double path = std::sqrt(in_plane_square(offset, elevation) + sight.middle_square);
            const double difference = path - reference[i];
            const double inverse = 1.0 / path;
            const double sine = offset.dot(lateral[i]) * inverse;
            if (i > 0) {
                slope[s] = std::max(slope[s], std::abs(difference - before) * per_half_range);
                view.elevation = std::max(
                    view.elevation, std::abs(inverse - inverse_before) * per_half_range * sight.face_square / 2.0);
                view.lateral = std::max(view.lateral, std::abs(sine - sine_before) * per_half_range * a.half_width[0]);
            }
            view.mixed =
                std::max(view.mixed, std::abs(sine) * a.half_width[0] * sight.face_square / 2.0 * inverse * inverse);
            const double nearest = std::max(path * path - sight.face_square, 0.0);
            view.excess = std::max(view.excess,
                                   sight.face_square / (path + std::sqrt(nearest)) + std::abs(sine) * a.half_width[0]);
            before = difference;
            inverse_before = inverse;
            sine_before = sine;
        }
    }
    sort_slopes(slope, cell, view);
    return view;
}

struct ResponseLevel {
    double whole = 1.0;
    double elevation = 1.0;  ///< without what is lost laterally
};

/// How much of the unweakened response is left of a cell's, at the row's middle and ends, at the centre frequency: by
/// the elevation pattern, root mean square over some scatterers, and by the lateral one. Errors must be small against
/// that.
ResponseLevel response_level(const EngineContext& context, const RowCurve& curve, std::span<const Sight> sights,
                             std::span<const Scatterer> cell) {
    constexpr std::size_t most_scatterers = 12;
    constexpr int heights = 48;
    const ElementArrays& a = context.elements;
    const double c = context.medium.sound_speed_m_s;
    const double wavenumber = 2.0 * std::numbers::pi * context.center_Hz / c;
    const Vec3 elevation(a.elevation_x[0], a.elevation_y[0], a.elevation_z[0]);
    const std::size_t stride = (sights.size() + most_scatterers - 1) / most_scatterers;
    ResponseLevel least;
    for (const double parameter : {curve.first, (curve.first + curve.last) / 2.0, curve.last}) {
        const Element face = curve.face(parameter);
        double squares = 0.0;
        double elevation_squares = 0.0;
        double count = 0.0;
        for (std::size_t s = 0; s < sights.size(); s += stride) {
            const Vec3 offset = Vec3(cell[s].x_m, cell[s].y_m, cell[s].z_m) - face.center_m;
            const double y = offset.dot(elevation);
            const double in_plane = in_plane_square(offset, elevation);
            std::complex<double> sum;
            for (int i = 0; i < heights; ++i) {
                const double height = a.half_height[0] * ((2.0 * i + 1.0) / heights - 1.0);
                const double path = std::sqrt(in_plane + (y - height) * (y - height));
                sum +=
                    std::polar(1.0 / heights, -wavenumber * (path + c * lens_delay_s(a.elevation_focus_m, height, c)));
            }
            const double path = std::sqrt(in_plane + sights[s].middle_square);
            const double sine = offset.dot(elevation.cross(face.normal)) / path;
            const double turn = wavenumber * a.half_width[0] * sine;
            double lateral = std::abs(turn) > 1e-6 ? std::abs(std::sin(turn) / turn) : 1.0;
            lateral *= a.soft ? std::abs(offset.dot(face.normal)) / path : 1.0;
            squares += std::norm(sum) * std::pow(std::max(lateral, 0.25), 2);
            elevation_squares += std::norm(sum);
            count += 1.0;
        }
        least.whole = std::min(least.whole, std::max(std::sqrt(squares / count), 0.02));
        least.elevation = std::min(least.elevation, std::max(std::sqrt(elevation_squares / count), 0.02));
    }
    return least;
}

/// Fewest whole groups of nodes whose root mean square error over the cell's scatterers is within `tolerance`.
std::size_t needed_nodes(const CellView& view, double wavenumber, double tolerance) {
    for (std::size_t nodes = node_group;; nodes += node_group) {
        double square = 0.0;
        for (std::size_t i = 0; i < CellView::classes; ++i) {
            const double slope = view.steepest * static_cast<double>(i + 1) / CellView::classes;
            square += view.energy[i] * std::pow(interpolation_error(wavenumber * slope, nodes), 2);
        }
        if (square <= tolerance * tolerance || nodes > most_nodes) {
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

/// A run of bins with one number of nodes.
struct BinRun {
    int bins = 0;
    std::size_t nodes = 0;
};

std::size_t padded(std::size_t nodes) {
    return (nodes + element_group - 1) / element_group * element_group;
}

/// Runs of bins by the nodes they need; short runs join a neighbour that has more.
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
        const std::size_t left = can_join_left ? runs[i - 1].nodes : most_nodes * 4;
        const std::size_t right = can_join_right ? runs[i + 1].nodes : most_nodes * 4;
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

/// The parameter's range as [-1, 1].
struct UnitRange {
    double middle;
    double half;
    explicit UnitRange(const RowCurve& curve)
        : middle((curve.first + curve.last) / 2.0), half((curve.last - curve.first) / 2.0) {}
    double inside(double parameter) const { return half != 0.0 ? (parameter - middle) / half : 0.0; }
    double outside(double unit) const { return middle + half * unit; }
    std::vector<double> outside(std::span<const double> units) const {
        std::vector<double> out;
        for (const double unit : units) {
            out.push_back(outside(unit));
        }
        return out;
    }
};

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
    // Eight of Lagrange's points are wrong by 1.07e-3 phi^8 in their middle, with phi the phase from one to the next.
    const double lens_s = std::abs(lens_delay_s(places.elevation_focus_m, places.half_height[0], c));
    const double bin_turn = 2.0 * std::numbers::pi * plan.bin_Hz * (view.excess / c + lens_s);
    const double stride = std::pow(tolerance / 6.0 / 1.07e-3, 0.125) / bin_turn;
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

/// The middle of a cell and of its scatterers' middle paths.
struct CellMiddle {
    Vec3 at;
    double square;
};

CellMiddle middle_of(std::span<const Sight> sights) {
    Box box{sights.front().at, sights.front().at};
    double least = sights.front().middle_square;
    double most = least;
    for (const Sight& sight : sights) {
        box.least = box.least.cwiseMin(sight.at);
        box.most = box.most.cwiseMax(sight.at);
        least = std::min(least, sight.middle_square);
        most = std::max(most, sight.middle_square);
    }
    return {(box.least + box.most) / 2.0, (least + most) / 2.0};
}

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

/// The elements themselves as one group.
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

}  // namespace

std::size_t VirtualElements::most_nodes() const {
    std::size_t most = 0;
    for (const NodeGroup& group : groups) {
        most = std::max(most, group.elements.padded);
    }
    return most;
}

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
    out.cost = cost.direct(plan.faces.most_points());
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
    const CellView view = view_cell(*out.curve, elements, sights, cell, out.middle.at, out.middle.square);
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
