// What else is measured at points: side lobes, grating lobes, distances.

#include <algorithm>
#include <cmath>

#include "recon/measure/distances.h"
#include "recon/measure/grating.h"
#include "recon/measure/sections.h"
#include "recon/measure/side_lobe.h"
#include "recon/measure/speckle_theory.h"
#include "recon/measure/theory.h"
#include "sim/base/text.h"

namespace echoloom {
namespace {

/// The cystic resolution counts energy to this many -6 dB widths around a point, unless something is nearer.
constexpr double cystic_widths = 8.0;
/// A side lobe this close to the level of the surroundings may be part of them.
constexpr double background_margin_dB = 6.0;

std::optional<double> in_mm(std::optional<double> length_m) {
    return length_m ? std::optional(*length_m * 1e3) : std::nullopt;
}

std::size_t peak_index(const Profile& profile) {
    return static_cast<std::size_t>(std::ranges::max_element(profile.amplitude) - profile.amplitude.begin());
}

/// Side lobes of a theoretical profile over the range that was measured.
SideLobes of_theory(const Profile& profile, double from_m, double to_m) {
    if (profile.amplitude.size() < 3) return {};
    return side_lobes(profile, static_cast<double>(peak_index(profile)), from_m, to_m);
}

/// Half way to the nearest other point, and not beyond the range over which its profile was followed.
double cystic_reach_m(const Image& image, const PointMeasurement& measured) {
    double reach = cystic_widths * measured.lateral_6dB.width_m.value_or(0.0);
    reach = std::min(
        {reach, measured.lateral_error_m - measured.reach_from_m, measured.reach_to_m - measured.lateral_error_m});
    for (const TruePoint& other : image.recording.truth.points) {
        const Vec3 apart(other.position_m.x() - measured.true_m.x(), 0.0, other.position_m.z() - measured.true_m.z());
        if (apart.norm() > 1e-6) reach = std::min(reach, 0.5 * apart.norm());
    }
    return reach;
}

SectionRow side_lobe_row(const Image& image, const PointReport& point) {
    const PointMeasurement& measured = point.measured;
    SectionRow row{"", measured.true_m.x() * 1e3, measured.true_m.z() * 1e3, std::vector<Quantity>(5), ""};
    const Profile profile = lateral_profile(image, measured);
    const double peak = measured.lateral_peak_index;
    // As far as the prediction goes; both ranges are centred on the peak.
    const double half = std::min({measured.lateral_error_m - measured.reach_from_m,
                                  measured.reach_to_m - measured.lateral_error_m, point.predicted_reach_m});
    const double middle = measured.lateral_error_m;
    const SideLobes lobes = side_lobes(profile, peak, middle - half, middle + half);
    const double predicted_peak = point.predicted_lateral.amplitude.empty()
                                      ? 0.0
                                      : point.predicted_lateral.position_m[peak_index(point.predicted_lateral)];
    const SideLobes predicted = of_theory(point.predicted_lateral, predicted_peak - half, predicted_peak + half);
    const Profile pattern =
        std::isfinite(point.theory_lateral_6dB_m) && half > 0.0
            ? pattern_theory(image.recording, image.recipe, measured.true_m, half, point.theory_lateral_6dB_m / 12.0)
            : Profile{};
    const SideLobes theory = of_theory(pattern, -half, half);

    const bool coarse = measured.lateral_6dB.coarse();
    row.quantities[0] = {lobes.peak_side_lobe_dB,
                         {},
                         {predicted.peak_side_lobe_dB, theory.peak_side_lobe_dB},
                         coarse ? "fewer than 3 pixels across: make the grid finer to trust side lobes" : lobes.reason};
    const auto position = [&](const SideLobes& of, double from) {
        return of.peak_side_lobe_dB ? std::optional((of.peak_side_lobe_m - from) * 1e3) : std::nullopt;
    };
    row.quantities[1] = {position(lobes, middle), {}, {position(predicted, predicted_peak)}, ""};
    // Of two equal lobes, the prediction and the image may pick different sides.
    auto& [side, confidence, sides, note] = row.quantities[1];
    if (side && sides[0] && std::abs(std::abs(*side) - std::abs(*sides[0])) < std::abs(*side - *sides[0])) {
        sides[0] = std::copysign(*sides[0], *side);
    }
    row.quantities[2] = {lobes.integrated_side_lobe_ratio_dB, {}, {predicted.integrated_side_lobe_ratio_dB}, ""};
    const CysticResolution cystic = cystic_resolution(image, measured, cystic_reach_m(image, measured));
    row.quantities[3] = {in_mm(cystic.radius_m), {}, {}, cystic.reason};
    row.quantities[4] = {half * 1e3, {}, {}, ""};
    if (lobes.peak_side_lobe_dB && *lobes.peak_side_lobe_dB > -6.0) {
        row.note = "out of focus: the beam itself has split into lobes of similar height";
    } else if (lobes.rising) {
        row.note = "the profile still rises where the search range ends: another target's echo, or noise, begins there";
    } else if (lobes.peak_side_lobe_dB && predicted.peak_side_lobe_dB &&
               *lobes.peak_side_lobe_dB > *predicted.peak_side_lobe_dB + background_margin_dB) {
        row.note = measured.prominence_dB < -*lobes.peak_side_lobe_dB + background_margin_dB
                       ? "the surroundings are about as bright as this lobe: take it as an upper bound"
                       : "higher than predicted: another target's echo, or noise, lies in the search range";
    }
    return row;
}

}  // namespace

Section side_lobe_section(const Image& image, std::span<const PointReport> points) {
    Section section;
    section.key = "side_lobes";
    section.title = "Side lobes of points";
    section.explanation =
        "On the lateral profile through the peak, within the search range to either side that belongs to the point. "
        "The main lobe ends at the first minimum beyond the -6 dB width. position: from the peak. integrated ratio: "
        "energy outside the main lobe over that inside. cystic resolution: radius of a hole in speckle whose centre is "
        "20 dB darker than its surroundings (Vilkomerson et al. 1995). predicted: computed for this recipe over the "
        "pulse's spectrum. theory: both apertures in focus, continuous wave (sinc^2: -26.5 dB).";
    section.kinds = {
        {"peak_side_lobe_dB",
         "peak side lobe, dB",
         1,
         {"predicted", "theory"},
         Comparison::difference,
         "maximum of the lateral profile beyond the first minimum below half amplitude, against the peak; theory: "
         "product of both apertures' paraxial continuous-wave patterns (sinc^2 for equal rectangular ones)"},
        {"peak_side_lobe_position_mm", "position, mm", 2, {"predicted"}, Comparison::none, "from the peak, lateral"},
        {"integrated_side_lobe_ratio_dB",
         "integrated side lobe ratio, dB",
         1,
         {"predicted"},
         Comparison::difference,
         "10 log10 of squared envelope outside over inside the main lobe, along the lateral profile"},
        {"cystic_resolution_mm",
         "cystic resolution, mm",
         2,
         {},
         Comparison::none,
         "radius outside which lies 1 % of the point response's energy in the image plane (D. Vilkomerson, J. "
         "Greenleaf, V. Dutt, IEEE Ultrasonics Symposium 1995, 1405-1410, for a cylinder)"},
        {"search_range_mm", "search range, mm", 2, {}, Comparison::none, "to either side of the point"}};
    for (const PointReport& point : points) {
        if (point.measured.found) section.rows.push_back(side_lobe_row(image, point));
    }
    return section;
}

Section grating_section(const Image& image, std::span<const PointReport> points) {
    Section section;
    section.key = "grating_lobes";
    section.title = "Grating lobes";
    section.explanation =
        "A line shows a point a second time where its aperture sees the point at a sine of s + lambda / pitch, s "
        "its own direction. theory: that position. level: peak of the envelope near it, against the point's own. "
        "predicted: far field, from weights, bandwidth and the elements' directivity (equal weights: 0.939 / "
        "(bandwidth N)). A lobe is a streak as long as the pulse takes to cross the aperture, N wavelengths: its "
        "maximum may lie anywhere on it.";
    section.kinds = {{"order", "order", 0, {}, Comparison::none, "n of sine s + n lambda / pitch"},
                     {"at_x_mm",
                      "lobe x, mm",
                      2,
                      {"theory"},
                      Comparison::difference,
                      "x of the brightest sample near the position of theory, which lies "
                      "at sine s + n lambda / pitch"},
                     {"at_depth_mm",
                      "lobe depth, mm",
                      2,
                      {"theory"},
                      Comparison::difference,
                      "depth of that sample; theory: the point's own distance"},
                     {"level_dB",
                      "level, dB",
                      1,
                      {"predicted"},
                      Comparison::difference,
                      "against the point's peak; predicted: two-way, far field, mean of both array factors over the "
                      "echo's spectrum, "
                      "times directivity"}};
    int hidden = 0;
    for (const PointReport& point : points) {
        if (!point.measured.found) continue;
        for (const GratingLobe& lobe : grating_lobes(image, point.measured.true_m, point.measured.peak_amplitude)) {
            if (lobe.another_point) {
                ++hidden;
                continue;
            }
            SectionRow row{"", point.measured.true_m.x() * 1e3, point.measured.true_m.z() * 1e3, {}, ""};
            row.quantities = {{static_cast<double>(lobe.order), {}, {}, ""},
                              {lobe.measured_m.x() * 1e3, {}, {lobe.place_m.x() * 1e3}, ""},
                              {lobe.measured_m.z() * 1e3, {}, {lobe.place_m.z() * 1e3}, ""},
                              {lobe.measured_dB, {}, {lobe.predicted_dB}, ""}};
            if (lobe.measured_dB > lobe.predicted_dB + 10.0) {
                row.note = "other echoes there are brighter than the lobe would be";
            } else if (lobe.measured_dB < lobe.predicted_dB - 6.0) {
                row.note = "weaker than in the far field: the point is near, and the aperture sees it at many angles";
            }
            section.rows.push_back(std::move(row));
        }
    }
    if (hidden == 1) section.notes.push_back("1 more lobe lies on or near another point, which hides it");
    if (hidden > 1) {
        section.notes.push_back(std::to_string(hidden) + " more lobes lie on or near other points, which hide them");
    }
    return section;
}

Section distance_section(const Image& image, std::span<const PointReport> points) {
    Section section;
    section.key = "distances";
    section.title = "Distances";
    section.explanation =
        "Between points one below the other (axial) and side by side (lateral), at least 2 mm apart. limit: axial "
        "1.5 mm or 1.5 %, lateral 2 mm or 2 %, whichever is greater (AAPM Ultrasound Task Group No. 1, Med. Phys. "
        "25, 1385-1406, 1998; numbers from memory).";
    section.kinds = {
        {"pairs", "pairs", 0, {}, Comparison::none, "pairs of points compared"},
        {"longest_mm", "longest, mm", 3, {"true"}, Comparison::ratio, "distance of the pair farthest apart"},
        {"worst_error_mm",
         "worst error, mm",
         3,
         {},
         Comparison::none,
         "measured minus true distance, of the pair where it is largest"},
        {"limit_mm", "limit, mm", 2, {}, Comparison::none, "for the pair with the worst error"},
        {"rms_error_mm", "rms error, mm", 3, {}, Comparison::none, "over all pairs"},
        {"beyond_limit", "beyond limit", 0, {}, Comparison::none, "pairs beyond their own limit"}};
    std::vector<PointMeasurement> measured;
    for (const PointReport& point : points) {
        if (point.place_known) measured.push_back(point.measured);
    }
    const double speeds = image.sound_speed_m_s / image.recording.medium.sound_speed_m_s;
    for (const bool axial : {true, false}) {
        const auto check = check_distances(measured, axial);
        if (!check) continue;
        SectionRow row{axial ? "axial" : "lateral", std::nullopt, std::nullopt, {}, ""};
        const auto mm = [](double length_m) { return Quantity{length_m * 1e3, {}, {}, ""}; };
        row.quantities = {{static_cast<double>(check->pairs), {}, {}, ""},
                          {check->longest_measured_m * 1e3, {}, {check->longest_true_m * 1e3}, ""},
                          mm(check->worst_measured_m - check->worst_true_m),
                          mm(check->limit_m),
                          mm(check->rms_error_m),
                          {static_cast<double>(check->beyond_limit), {}, {}, ""}};
        if (axial && std::abs(speeds - 1.0) > 1e-3) {
            row.note = "reconstructed for " + plain(image.sound_speed_m_s) + " m/s where the sound speed is " +
                       plain(image.recording.medium.sound_speed_m_s) + " m/s: axial distances scale with the ratio, " +
                       plain(std::round(speeds * 1e4) / 1e4);
        }
        section.rows.push_back(std::move(row));
    }
    return section;
}

}  // namespace echoloom
