// What points tell beyond their widths: side lobes, grating lobes, distances.

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

/// The cystic resolution counts energy so many half-amplitude widths around a point, unless something is nearer.
constexpr double cystic_widths = 8.0;
/// A side lobe this near to what the surroundings show is theirs.
constexpr double background_margin_dB = 6.0;

std::optional<double> in_mm(std::optional<double> length_m) {
    return length_m ? std::optional(*length_m * 1e3) : std::nullopt;
}

std::size_t highest(const Profile& profile) {
    return static_cast<std::size_t>(std::ranges::max_element(profile.amplitude) - profile.amplitude.begin());
}

/// Side lobes of a profile of theory over the stretch that was measured.
SideLobes of_theory(const Profile& profile, double from_m, double to_m) {
    if (profile.amplitude.size() < 3) return {};
    return side_lobes(profile, static_cast<double>(highest(profile)), from_m, to_m);
}

/// Half way to the nearest other point, and not beyond the stretch its profile was followed.
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
    const double peak_index = measured.lateral_peak_index;
    // As far as theory can follow it; where the point lies is where both begin.
    const double half = std::min({measured.lateral_error_m - measured.reach_from_m,
                                  measured.reach_to_m - measured.lateral_error_m, point.predicted_reach_m});
    const double middle = measured.lateral_error_m;
    const SideLobes found = side_lobes(profile, peak_index, middle - half, middle + half);
    const double predicted_peak = point.predicted_lateral.amplitude.empty()
                                      ? 0.0
                                      : point.predicted_lateral.position_m[highest(point.predicted_lateral)];
    const SideLobes predicted = of_theory(point.predicted_lateral, predicted_peak - half, predicted_peak + half);
    const Profile pattern =
        std::isfinite(point.theory_lateral_6dB_m) && half > 0.0
            ? pattern_theory(image.recording, image.recipe, measured.true_m, half, point.theory_lateral_6dB_m / 12.0)
            : Profile{};
    const SideLobes rule = of_theory(pattern, -half, half);

    const bool coarse = measured.lateral_6dB.coarse();
    row.quantities[0] = {found.peak_side_lobe_dB,
                         {},
                         {predicted.peak_side_lobe_dB, rule.peak_side_lobe_dB},
                         coarse ? "fewer than 3 pixels across: make the grid finer to trust side lobes" : found.reason};
    const auto place = [&](const SideLobes& lobes, double from) {
        return lobes.peak_side_lobe_dB ? std::optional((lobes.peak_side_lobe_m - from) * 1e3) : std::nullopt;
    };
    row.quantities[1] = {place(found, middle), {}, {place(predicted, predicted_peak)}, ""};
    // Where two lobes are alike, theory and picture may each name another side.
    auto& [side, confidence, sides, note] = row.quantities[1];
    if (side && sides[0] && std::abs(std::abs(*side) - std::abs(*sides[0])) < std::abs(*side - *sides[0])) {
        sides[0] = std::copysign(*sides[0], *side);
    }
    row.quantities[2] = {found.integrated_side_lobe_ratio_dB, {}, {predicted.integrated_side_lobe_ratio_dB}, ""};
    const CysticResolution cystic = cystic_resolution(image, measured, cystic_reach_m(image, measured));
    row.quantities[3] = {in_mm(cystic.radius_m), {}, {}, cystic.reason};
    row.quantities[4] = {half * 1e3, {}, {}, ""};
    if (found.peak_side_lobe_dB && *found.peak_side_lobe_dB > -6.0) {
        row.note = "out of focus: the beam itself has split into lobes of like height";
    } else if (found.rising) {
        row.note = "the profile still rises where its stretch ends: another target's echo, or noise, begins there";
    } else if (found.peak_side_lobe_dB && predicted.peak_side_lobe_dB &&
               *found.peak_side_lobe_dB > *predicted.peak_side_lobe_dB + background_margin_dB) {
        row.note = measured.prominence_dB < -*found.peak_side_lobe_dB + background_margin_dB
                       ? "its surroundings are about as bright as this lobe: read it as an upper bound"
                       : "higher than predicted: another target's echo, or noise, lies in its stretch";
    }
    return row;
}

}  // namespace

Section side_lobe_section(const Image& image, std::span<const PointReport> points) {
    Section section;
    section.key = "side_lobes";
    section.title = "Side lobes of points";
    section.explanation =
        "On the lateral profile through the peak, as far as it is the point's own (stretch, to either side). Main "
        "lobe: "
        "to the first dip beyond half amplitude. integrated: energy outside the main lobe over that inside. cystic: "
        "radius of a hole in speckle whose centre is 20 dB darker than its surroundings (Vilkomerson et al. 1995). "
        "predicted: summed for this recipe over the pulse's spectrum. rule: both apertures in focus, continuous wave "
        "(sinc^2: -26.5 dB).";
    section.kinds = {
        {"peak_side_lobe_dB",
         "highest, dB",
         1,
         {"predicted", "rule"},
         Comparison::difference,
         "highest place of the lateral profile beyond the first dip below half amplitude, against the peak; rule: "
         "product of the apertures' paraxial continuous-wave patterns"},
        {"peak_side_lobe_position_mm",
         "where, mm",
         2,
         {"predicted"},
         Comparison::none,
         "from the peak, across the beam"},
        {"integrated_side_lobe_ratio_dB",
         "integrated, dB",
         1,
         {"predicted"},
         Comparison::difference,
         "10 log10 of squared envelope outside over inside the main lobe, along the lateral profile"},
        {"cystic_resolution_mm",
         "cystic, mm",
         2,
         {},
         Comparison::none,
         "radius outside which lies 1 % of the point response's energy in the image plane (D. Vilkomerson, J. "
         "Greenleaf, V. Dutt, IEEE Ultrasonics Symposium 1995, 1405-1410, for a cylinder)"},
        {"search_range_mm", "stretch, mm", 2, {}, Comparison::none, "how far to either side lobes were looked for"}};
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
        "Where a line's aperture sees a point at sine s + lambda / pitch off its own direction, it draws the point a "
        "second time. place: where that is; level: the highest envelope nearby, against the point's own. predicted: "
        "far field, from weights, bandwidth and the elements' directivity (equal weights: 0.939 / (bandwidth N)). A "
        "lobe is a streak as long as the pulse takes across the aperture, N "
        "wavelengths: its brightest place lies anywhere along it.";
    section.kinds = {
        {"order", "order", 0, {}, Comparison::none, "n of sine s + n lambda / pitch"},
        {"at_x_mm", "at x, mm", 2, {"predicted"}, Comparison::difference, "x of the brightest sample nearby"},
        {"at_depth_mm", "at depth, mm", 2, {"predicted"}, Comparison::difference, "depth of that sample"},
        {"level_dB",
         "level, dB",
         1,
         {"predicted"},
         Comparison::difference,
         "two-way, far field: mean of both array factors over the echo's spectrum, times directivity"}};
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
                row.note = "weaker than far-field theory: the point is near, and the aperture sees it under many sines";
            }
            section.rows.push_back(std::move(row));
        }
    }
    if (hidden > 0)
        section.notes.push_back(std::to_string(hidden) + " more fall on or near other points, which hide them");
    return section;
}

Section distance_section(const Image& image, std::span<const PointReport> points) {
    Section section;
    section.key = "distances";
    section.title = "Distances";
    section.explanation =
        "Between points one above the other, and side by side, 2 mm apart or more. limit: 1.5 mm or 1.5 % down, 2 mm "
        "or "
        "2 % across (AAPM Ultrasound Task Group No. 1, Med. Phys. 25, 1385-1406, 1998; numbers from memory).";
    section.kinds = {
        {"pairs", "pairs", 0, {}, Comparison::none, "pairs of points compared"},
        {"longest_mm", "longest, mm", 3, {"true"}, Comparison::ratio, "distance of the pair farthest apart"},
        {"worst_error_mm",
         "worst error, mm",
         3,
         {},
         Comparison::none,
         "measured minus true distance, greatest in size"},
        {"limit_mm", "limit, mm", 2, {}, Comparison::none, "for the pair of the worst error"},
        {"rms_error_mm", "rms error, mm", 3, {}, Comparison::none, "over all pairs"},
        {"beyond_limit", "beyond limit", 0, {}, Comparison::none, "pairs beyond their own limit"}};
    std::vector<PointMeasurement> measured;
    for (const PointReport& point : points) {
        if (point.place_known) measured.push_back(point.measured);
    }
    const double speeds = image.sound_speed_m_s / image.recording.medium.sound_speed_m_s;
    for (const bool along : {true, false}) {
        const auto check = check_distances(measured, along);
        if (!check) continue;
        SectionRow row{along ? "down" : "across", std::nullopt, std::nullopt, {}, ""};
        const auto mm = [](double length_m) { return Quantity{length_m * 1e3, {}, {}, ""}; };
        row.quantities = {{static_cast<double>(check->pairs), {}, {}, ""},
                          {check->longest_measured_m * 1e3, {}, {check->longest_true_m * 1e3}, ""},
                          mm(check->worst_measured_m - check->worst_true_m),
                          mm(check->limit_m),
                          mm(check->rms_error_m),
                          {static_cast<double>(check->beyond_limit), {}, {}, ""}};
        if (along && std::abs(speeds - 1.0) > 1e-3) {
            row.note = "reconstructed for " + plain(image.sound_speed_m_s) + " m/s where sound runs at " +
                       plain(image.recording.medium.sound_speed_m_s) +
                       ": distances along the beam grow by the ratio, " + plain(std::round(speeds * 1e4) / 1e4);
        }
        section.rows.push_back(std::move(row));
    }
    return section;
}

}  // namespace echoloom
