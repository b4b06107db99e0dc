#include "recon/measure/bright_points.h"

#include <algorithm>
#include <cmath>
#include <map>

#include "recon/measure/grid_place.h"
#include "recon/measure/interpolate.h"
#include "recon/measure/profile.h"
#include "recon/measure/theory.h"

namespace echoloom {
namespace {

constexpr double peak_cells = 1.5;
constexpr double surroundings_cells = 6.0;
/// Over the 90th percentile of the surroundings, 2.15 times the rms of one part of a Rayleigh envelope: 7 times that.
constexpr double min_prominence = 3.3;
constexpr double percentile = 0.9;
constexpr double min_of_brightest = 0.01;
constexpr double shade_lateral = 20.0, shade_axial = 8.0;
constexpr double min_in_shade = 0.25;

struct Candidate {
    double amplitude;
    std::size_t column, depth;
    Vec3 place_m;
    double lateral_m, axial_m;  ///< a cell there
};

/// Inclusive range of samples to either side.
std::pair<std::size_t, std::size_t> range(std::size_t center, double half, std::size_t count) {
    const auto reach = static_cast<std::size_t>(std::clamp(std::ceil(half), 1.0, static_cast<double>(count)));
    return {center > reach ? center - reach : 0, std::min(center + reach, count - 1)};
}

bool rises(const SampleView& field, std::size_t c, std::size_t d) {
    const double here = field.at(c, d);
    return here > field.at(c, d - 1) && here >= field.at(c, d + 1) && here > field.at(c - 1, d) &&
           here >= field.at(c + 1, d);
}

double high_of(std::vector<double> values) {
    if (values.empty()) return 0.0;
    const auto middle =
        values.begin() + static_cast<std::ptrdiff_t>(percentile * static_cast<double>(values.size() - 1));
    std::nth_element(values.begin(), middle, values.end());
    return *middle;
}

/// Highest within its cell, and well above the brightest tenth of what surrounds it.
bool stands_out(const SampleView& field, const Candidate& candidate, double columns_per_cell, double depths_per_cell) {
    const auto [c0, c1] = range(candidate.column, peak_cells * columns_per_cell, field.columns);
    const auto [d0, d1] = range(candidate.depth, peak_cells * depths_per_cell, field.depths);
    for (std::size_t c = c0; c <= c1; ++c) {
        for (std::size_t d = d0; d <= d1; ++d) {
            if (field.at(c, d) > candidate.amplitude) return false;
        }
    }
    const auto [a0, a1] = range(candidate.column, surroundings_cells * columns_per_cell, field.columns);
    const auto [b0, b1] = range(candidate.depth, surroundings_cells * depths_per_cell, field.depths);
    std::vector<double> around;
    for (std::size_t c = a0; c <= a1; ++c) {
        for (std::size_t d = b0; d <= b1; ++d) {
            if (c < c0 || c > c1 || d < d0 || d > d1) around.push_back(field.at(c, d));
        }
    }
    return candidate.amplitude > min_prominence * high_of(std::move(around));
}

/// Theoretical widths, computed once every few millimetres: there may be thousands of peaks.
class TheoryWidths {
  public:
    explicit TheoryWidths(const Image& image) : image_(image) {}
    double at(const Vec3& place_m) {
        constexpr double step_m = 4e-3;
        const auto key = std::pair(std::lround(place_m.x() / step_m), std::lround(place_m.z() / step_m));
        const auto [known, added] = widths_.try_emplace(key, 0.0);
        if (added) known->second = lateral_theory_m(image_.recording, image_.recipe, place_m, 0.5);
        return known->second;
    }

  private:
    const Image& image_;
    std::map<std::pair<long, long>, double> widths_;
};

/// Within the side lobes of a brighter point.
bool shaded(const Candidate& candidate, const std::vector<Candidate>& brighter, const Grid& grid) {
    const Column line = column_at(grid, static_cast<double>(candidate.column));
    return std::ranges::any_of(brighter, [&](const Candidate& other) {
        const Vec3 apart = candidate.place_m - other.place_m;
        const double lateral = std::abs(apart.dot(line.lateral())) / candidate.lateral_m;
        const double axial = std::abs(apart.dot(line.direction)) / candidate.axial_m;
        if (lateral < peak_cells && axial < peak_cells) return true;
        return lateral < shade_lateral && axial < shade_axial && candidate.amplitude < min_in_shade * other.amplitude;
    });
}

}  // namespace

std::vector<Vec3> find_bright_points(const Image& image, const PlaneBox& box, std::size_t max_count) {
    std::vector<Vec3> places;
    if (image.columns < 3 || image.depths < 3) return places;
    const SampleView field{image.envelope, image.columns, image.depths};
    const auto& depths = depths_of(image.grid);
    const double depth_step = (depths.back() - depths.front()) / static_cast<double>(depths.size() - 1);
    std::vector<Candidate> peaks;
    for (std::size_t c = 1; c + 1 < image.columns; ++c) {
        const Column line = column_at(image.grid, static_cast<double>(c));
        for (std::size_t d = 1; d + 1 < image.depths; ++d) {
            if (!rises(field, c, d)) continue;
            const Vec3 place = line.origin_m + depths[d] * line.direction;
            if (box.holds(place.x(), place.z())) peaks.push_back({field.at(c, d), c, d, place, 0.0, 0.0});
        }
    }
    std::ranges::sort(peaks, [](const Candidate& a, const Candidate& b) {
        return a.amplitude != b.amplitude ? a.amplitude > b.amplitude
                                          : std::pair(a.column, a.depth) < std::pair(b.column, b.depth);
    });
    std::vector<Candidate> chosen;
    TheoryWidths widths(image);
    const double axial = axial_theory_m(image.recording.probe, image.recording.medium.sound_speed_m_s, 0.5);
    for (Candidate& peak : peaks) {
        if (chosen.size() >= max_count || peak.amplitude < min_of_brightest * peaks.front().amplitude) break;
        const double theory = widths.at(peak.place_m);
        const LateralCut cut =
            lateral_cut(image.grid, {static_cast<double>(peak.column), static_cast<double>(peak.depth)});
        if (cut.position_m.size() < 2) continue;
        const double step =
            std::abs(cut.position_m.back() - cut.position_m.front()) / static_cast<double>(cut.position_m.size() - 1);
        peak.lateral_m = std::max(std::isfinite(theory) ? theory : 0.0, step);
        peak.axial_m = std::max(axial, depth_step);
        if (shaded(peak, chosen, image.grid)) continue;
        if (stands_out(field, peak, peak.lateral_m / step, peak.axial_m / depth_step)) chosen.push_back(peak);
    }
    for (const Candidate& peak : chosen) {
        const FieldPeak fine = refine_peak(field, peak.column, peak.depth);
        const Column line = column_at(image.grid, fine.column);
        places.push_back(line.origin_m + value_at_index(depths, fine.depth) * line.direction);
    }
    return places;
}

}  // namespace echoloom
