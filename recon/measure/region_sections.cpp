// What regions and sheets tell: contrast, speckle, thickness of the slice, penetration.

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

#include "recon/measure/contrast.h"
#include "recon/measure/grid_place.h"
#include "recon/measure/penetration.h"
#include "recon/measure/prediction.h"
#include "recon/measure/rayleigh.h"
#include "recon/measure/region_pixels.h"
#include "recon/measure/sections.h"
#include "recon/measure/sheet_slice.h"
#include "recon/measure/slice_width.h"
#include "recon/measure/speckle.h"
#include "recon/measure/speckle_size.h"
#include "recon/measure/speckle_theory.h"
#include "recon/measure/theory.h"
#include "sim/base/error.h"
#include "sim/base/kept_settings.h"
#include "sim/base/parallel.h"
#include "sim/base/text.h"

namespace echoloom {
namespace {

constexpr double confidence = 1.96;  // 95 %
/// A rim this share of an inclusion's half size at most is left out.
constexpr double max_rim = 0.4;
/// The ring around an inclusion is as wide as this share of its half size.
constexpr double ring_width = 0.6;
/// Speckle is told by bands of about this depth, and at most so many.
constexpr double band_m = 10e-3;
constexpr int max_bands = 8;
constexpr std::size_t min_pixels = 60;
constexpr double min_cells = 8.0;
/// A measured value farther off than this is given a reason, where one is known.
constexpr double far_off_dB = 2.0;

/// How wide and how long a point is drawn at a place.
struct Blur {
    double across_m = 0.0, along_m = 0.0;
};

Blur blur_at(const Image& image, const Vec3& place) {
    const RecordingInfo& info = image.recording;
    Blur blur;
    blur.along_m = axial_theory_m(info.probe, info.medium.sound_speed_m_s, 0.5);
    blur.across_m = lateral_theory_m(info, image.recipe, place, 0.5);
    const auto predicted = predict_point(info, image.recipe, place).lateral_6dB.width_m;
    if (predicted) blur.across_m = *predicted;
    if (!std::isfinite(blur.across_m)) blur.across_m = 0.0;
    return blur;
}

bool near_point(const Truth& truth, double x_m, double z_m, const Blur& blur) {
    return std::ranges::any_of(truth.points, [&](const TruePoint& point) {
        return std::abs(point.position_m.x() - x_m) < 2.0 * blur.across_m + 0.5e-3 &&
               std::abs(point.position_m.z() - z_m) < 3.0 * blur.along_m;
    });
}

/// The background region that an inclusion lies in: the last one before it that holds its centre.
const TrueRegion* parent_of(const Truth& truth, std::size_t inclusion) {
    const Vec3& center = truth.regions[inclusion].center_m;
    for (std::size_t n = inclusion; n-- > 0;) {
        const TrueRegion& region = truth.regions[n];
        if (!region.inclusion && inside_outline(region, center.x(), center.z())) return &region;
    }
    return nullptr;
}

std::string percent_of(double part, double whole) {
    return plain(std::round(100.0 * part / whole)) + " %";
}

SectionRow region_row(const Image& image, std::size_t index) {
    const Truth& truth = image.recording.truth;
    const TrueRegion& region = truth.regions[index];
    SectionRow row{region.name, region.center_m.x() * 1e3, region.center_m.z() * 1e3, std::vector<Quantity>(4), ""};
    const TrueRegion* parent = parent_of(truth, index);
    TrueRegion everywhere;
    everywhere.half_size_m = {1.0, 1.0, 1.0};
    // A disc given by hand without a box of speckle around it is held against whatever is there.
    if (!parent && std::isnan(region.contrast_dB)) parent = &everywhere;
    const auto none = [&](const std::string& why) {
        row.note = why;
        return row;
    };
    if (!parent) return none("lies in no region of speckle");
    const Blur blur = blur_at(image, Vec3(region.center_m.x(), 0.0, region.center_m.z()));
    const double rim_x = std::min(0.5 * blur.across_m, max_rim * region.half_size_m.x());
    const double rim_z = std::min(0.5 * blur.along_m, max_rim * region.half_size_m.z());
    const double far_x = rim_x + ring_width * region.half_size_m.x();
    const double far_z = rim_z + ring_width * region.half_size_m.z();
    auto inside = pixels_where(image, [&](double x, double z) {
        return inside_outline(region, x, z, -rim_x, -rim_z) && !near_point(truth, x, z, blur);
    });
    auto outside = pixels_where(image, [&](double x, double z) {
        if (!inside_outline(region, x, z, far_x, far_z) || inside_outline(region, x, z, rim_x, rim_z)) return false;
        if (!inside_outline(*parent, x, z, -rim_x, -rim_z) || near_point(truth, x, z, blur)) return false;
        return std::ranges::none_of(truth.regions, [&](const TrueRegion& other) {
            return &other != &region && other.inclusion && inside_outline(other, x, z, rim_x, rim_z);
        });
    });
    if (inside.size() < min_pixels || outside.size() < min_pixels) {
        return none("outside the image, or too few pixels in it");
    }
    // The two differ in level; what both share with depth and from side to side is attenuation, gain and the beam's.
    const std::array<const std::vector<RegionPixel>*, 2> both{&inside, &outside};
    const Trend trend(both, false);
    trend.flatten(inside);
    trend.flatten(outside);
    const auto grain =
        predict_speckle_size(image.recording, image.recipe, Vec3(region.center_m.x(), 0.0, region.center_m.z()));
    const SpeckleCell cell =
        grain ? SpeckleCell{grain->across_m, grain->along_m} : SpeckleCell{blur.across_m, blur.along_m};
    const RegionContrast found = compare_regions(inside, outside, cell);
    const auto around = [](double value, double spread) {
        return std::pair(value - confidence * spread, value + confidence * spread);
    };
    const bool known = std::isfinite(region.contrast_dB);
    row.quantities[0] = {found.contrast_dB,
                         around(found.contrast_dB, found.contrast_spread_dB),
                         {std::isnan(region.contrast_dB) ? std::nullopt : std::optional(region.contrast_dB)},
                         ""};
    row.quantities[1] = {found.cnr, around(found.cnr, found.cnr_spread), {rayleigh_cnr(found.contrast_dB)}, ""};
    row.quantities[2] = {found.gcnr,
                         std::pair(std::max(0.0, found.gcnr - confidence * found.gcnr_spread),
                                   std::min(1.0, found.gcnr + confidence * found.gcnr_spread)),
                         {rayleigh_gcnr(found.contrast_dB)},
                         ""};
    row.quantities[3] = {found.cells_inside, {}, {}, ""};
    if (blur.across_m > 0.5 * region.half_size_m.x()) {
        row.note = "a point is drawn " + percent_of(blur.across_m, 2.0 * region.half_size_m.x()) +
                   " as wide as this region here: what lies around leaks in";
    } else if (std::isinf(region.contrast_dB)) {
        row.note = "empty: what is seen inside are side lobes, the slice's edges and noise";
    } else if (known && std::abs(found.contrast_dB - region.contrast_dB) > far_off_dB &&
               std::abs(found.contrast_dB - region.contrast_dB) > confidence * found.contrast_spread_dB) {
        row.note = region.contrast_dB < 0.0 ? "filled in by side lobes of its brighter surroundings"
                                            : "off by more than the few cells explain: see the picture";
    }
    return row;
}

struct Band {
    const TrueRegion* region;
    double from_m, to_m;
};

/// Bands of depth of every background region.
std::vector<Band> bands_of(const Truth& truth, const Grid& grid) {
    const auto& depths = depths_of(grid);
    std::vector<Band> bands;
    for (const TrueRegion& region : truth.regions) {
        if (region.inclusion) continue;
        const double top = std::max(region.center_m.z() - region.half_size_m.z(), depths.front());
        const double bottom = std::min(region.center_m.z() + region.half_size_m.z(), depths.back());
        if (!(bottom - top > 1e-3)) continue;
        const int count = std::clamp(static_cast<int>(std::lround((bottom - top) / band_m)), 1, max_bands);
        for (int n = 0; n < count; ++n) {
            bands.push_back({&region, top + (bottom - top) * n / count, top + (bottom - top) * (n + 1) / count});
        }
    }
    return bands;
}

std::string speckle_reason(const SpeckleStatistics& found, double cell_across_m, double focus_across_m) {
    std::string reason;
    if (found.snr_high < rayleigh_snr()) {
        reason = "SNR below 1.91: fewer than some ten scatterers in a cell, or brightness that changes within the band";
    } else if (found.snr_low > rayleigh_snr()) {
        reason = "SNR above 1.91: an envelope that was averaged, or filtered after detection";
    }
    if (cell_across_m > 1.5 * focus_across_m) {
        reason += (reason.empty() ? "" : "; ") + std::string("out of focus here: grains ") +
                  percent_of(cell_across_m, focus_across_m) + " as wide as in focus are predicted";
    }
    return reason;
}

std::optional<SectionRow> speckle_row(const Image& image, const Band& band) {
    const Truth& truth = image.recording.truth;
    const RecordingInfo& info = image.recording;
    const double middle = 0.5 * (band.from_m + band.to_m);
    SectionRow row{band.region->name, std::nullopt, middle * 1e3, std::vector<Quantity>(4), ""};
    const Vec3 place(band.region->center_m.x(), 0.0, middle);
    const Blur blur = blur_at(image, place);
    const double rim_x = std::min(blur.across_m, max_rim * band.region->half_size_m.x());
    const double rim_z = std::min(blur.along_m, 0.2 * (band.to_m - band.from_m));
    auto pixels = pixels_where(image, [&](double x, double z) {
        if (z < band.from_m || z > band.to_m || !inside_outline(*band.region, x, z, -rim_x, -rim_z)) return false;
        if (near_point(truth, x, z, blur)) return false;
        return std::ranges::none_of(truth.regions, [&](const TrueRegion& other) {
            return other.inclusion && inside_outline(other, x, z, rim_x, rim_z);
        });
    });
    const double in_focus = lateral_cell_m(info, image.recipe, place).value_or(0.0);
    const double axial_theory = axial_cell_m(info.probe, info.medium.sound_speed_m_s);
    const auto predicted = predict_speckle_size(info, image.recipe, place);
    const double expected = predicted ? predicted->across_m : blur.across_m;
    const SpeckleCell cell{std::max(expected, 1e-5), predicted ? predicted->along_m : axial_theory};
    if (pixels.size() < min_pixels || area_of(pixels) < min_cells * cell.area_m2()) return std::nullopt;
    const std::array<const std::vector<RegionPixel>*, 1> all{&pixels};
    Trend(all, true).flatten(pixels);
    const SpeckleStatistics found = measure_speckle(pixels, cell);
    const auto mm = [](std::optional<double> length_m) {
        return length_m ? std::optional(*length_m * 1e3) : std::nullopt;
    };
    row.quantities[0] = {found.snr, std::pair(found.snr_low, found.snr_high), {rayleigh_snr()}, ""};
    row.quantities[1] = {found.cells, {}, {}, ""};
    row.quantities[2] = {
        mm(found.across_m),
        {},
        {mm(expected), in_focus > 0.0 ? mm(in_focus) : std::nullopt},
        found.across_m ? found.across_pixels < 3.0 ? "fewer than 3 pixels to a grain" : "" : "too narrow a stretch"};
    row.quantities[3] = {
        mm(found.along_m),
        {},
        {mm(cell.along_m), mm(axial_theory)},
        found.along_m ? found.along_pixels < 3.0 ? "fewer than 3 pixels to a grain" : "" : "too short a stretch"};
    row.note = speckle_reason(found, expected, in_focus);
    return row;
}

/// Whether the scan asked for noise.
bool noise_was_added(const Image& image) {
    try {
        return kept_settings(image.recording.source.scan, "the scan").has("noise_snr_dB");
    } catch (const InputError&) {
        return false;  // a recording of somebody else's keeps what words it likes
    }
}

}  // namespace

Section region_section(const Image& image) {
    Section section;
    section.key = "regions";
    section.title = "Regions against what surrounds them";
    section.explanation =
        "On the linear envelope, a rim of half a point's width left out on both sides of the border, the slope of "
        "brightness that both sides share taken out. contrast: of mean powers; true: that of the phantom. CNR: "
        "difference of means over the root of the sum of variances (Patterson & Foster 1983, from memory). gCNR: 1 - "
        "overlap of the two distributions (Rodriguez-Molares et al. 2020), cross-validated against the bias of "
        "histograms. Rayleigh: closed form for two regions of full speckle of the measured contrast. +-: 95 %, from "
        "the "
        "number of speckle cells.";
    section.kinds = {
        {"contrast_dB",
         "contrast, dB",
         1,
         {"true"},
         Comparison::difference,
         "10 log10 of mean squared envelope inside over outside"},
        {"cnr",
         "CNR",
         2,
         {"Rayleigh"},
         Comparison::ratio,
         "|mean inside - mean outside| / sqrt(var inside + var outside) of the envelope; Rayleigh: 1.913 (1 - sqrt C) "
         "/ "
         "sqrt(1 + C)"},
        {"gcnr",
         "gCNR",
         2,
         {"Rayleigh"},
         Comparison::ratio,
         "1 - overlap of the envelope's distributions, two-fold cross-validated; Rayleigh: (1 - C) C^(C / (1 - C))"},
        {"cells", "cells", 0, {}, Comparison::none, "independent speckle cells inside"}};
    const Truth& truth = image.recording.truth;
    std::vector<std::size_t> inclusions;
    for (std::size_t n = 0; n < truth.regions.size(); ++n) {
        if (truth.regions[n].inclusion) inclusions.push_back(n);
    }
    section.rows.resize(inclusions.size());
    for_each_in_parallel(inclusions.size(), [&](std::size_t n) { section.rows[n] = region_row(image, inclusions[n]); });
    return section;
}

Section speckle_section(const Image& image) {
    Section section;
    section.key = "speckle";
    section.title = "Speckle";
    section.explanation =
        "By bands of depth, inclusions and points left out, slow changes of brightness taken out. SNR: mean over "
        "standard deviation of the envelope; fully developed: 1.913 (Burckhardt 1978; Wagner et al. 1983, from "
        "memory); "
        "+-: 95 %. grain: integral of the envelope's covariance across and along the beam (Wagner et al. 1983). "
        "predicted: from the point response summed for this recipe over the pulse's spectrum. rule: across, both "
        "apertures in focus, continuous wave (two equal rectangular ones: 0.872 wavelength z/D); along, 0.455 c / "
        "bandwidth.";
    section.kinds = {{"snr", "SNR", 2, {"Rayleigh"}, Comparison::ratio, "mean over standard deviation of the envelope"},
                     {"cells", "cells", 0, {}, Comparison::none, "area over that of a grain"},
                     {"lateral_speckle_size_mm",
                      "grain across, mm",
                      3,
                      {"predicted", "rule"},
                      Comparison::ratio,
                      "integral of the normalised covariance of the envelope across the beam, to 2 cells"},
                     {"axial_speckle_size_mm",
                      "grain along, mm",
                      3,
                      {"predicted", "rule"},
                      Comparison::ratio,
                      "the same along the beam; Gaussian echo: 0.45537 c / (B f0)"}};
    const std::vector<Band> bands = bands_of(image.recording.truth, image.grid);
    std::vector<std::optional<SectionRow>> rows(bands.size());
    for_each_in_parallel(bands.size(), [&](std::size_t n) { rows[n] = speckle_row(image, bands[n]); });
    for (auto& row : rows) {
        if (row) section.rows.push_back(std::move(*row));
    }
    return section;
}

Section slice_section(const Image& image) {
    Section section;
    section.key = "slice";
    section.title = "Slice thickness from inclined sheets";
    section.explanation =
        "Half-amplitude length along depth of a Gaussian with the spread of the sheet's echo, the pulse's own taken "
        "out, "
        "over tan(tilt) (Skolnick 1991). +-: 95 %, from the number of speckle cells. predicted: the two-way response "
        "of a point along elevation for this recipe.";
    section.kinds = {{"thickness_mm",
                      "thickness, mm",
                      2,
                      {"predicted"},
                      Comparison::ratio,
                      "full width at half amplitude along elevation (M. L. Skolnick, Radiology 180, 286-288, 1991)"}};
    for (const TrueSheet& sheet : image.recording.truth.sheets) {
        const SheetSlice slice = measure_sheet(image, sheet);
        SectionRow row{sheet.name, sheet.center_m.x() * 1e3, slice.depth_m * 1e3, {}, slice.reason};
        const Vec3 place(sheet.center_m.x(), 0.0, slice.depth_m);
        const auto predicted = elevation_width_m(image.recording, image.recipe, place, 0.5).width_m;
        std::optional<double> thickness_mm;
        std::optional<std::pair<double, double>> range;
        if (slice.thickness_m) {
            thickness_mm = *slice.thickness_m * 1e3;
            const double half = confidence * slice.spread_m * 1e3;
            range = {*thickness_mm - half, *thickness_mm + half};
        }
        row.quantities = {{thickness_mm, range, {predicted ? std::optional(*predicted * 1e3) : std::nullopt}, ""}};
        if (row.note.empty() && thickness_mm && predicted && *thickness_mm > 1.2e3 * *predicted) {
            row.note =
                "out of focus along elevation the echo is stretched in time as well: a sheet looks thicker still";
        }
        section.rows.push_back(std::move(row));
    }
    return section;
}

Section penetration_section(const Image& image) {
    Section section;
    section.key = "penetration";
    section.title = "Depth of penetration";
    section.explanation =
        "Where the rms envelope of speckle stands above that of noise alone by as much again in power (signal to noise "
        "1; IEC 61391-2:2010, 7.1, the ratio from memory). noise: from below the phantom, carried to other depths by "
        "the "
        "recipe's weights and gain.";
    section.kinds = {{"depth_mm", "penetration, mm", 1, {}, Comparison::none, "deepest depth of signal to noise 1"},
                     {"looked_to_mm", "looked to, mm", 1, {}, Comparison::none, "deepest speckle"},
                     {"snr_at_end_dB", "SNR there, dB", 1, {}, Comparison::none, "signal to noise at that depth"}};
    const auto found = measure_penetration(image);
    // What lies below the phantom of a simulated recording without noise is clutter, which no echo need stand out from.
    const bool simulated = !image.recording.source.scan.empty();
    if (!found || (simulated && !noise_was_added(image))) return section;
    SectionRow row{"", std::nullopt, std::nullopt, {}, found->reason};
    const auto mm = [](double length_m) { return length_m > 0.0 ? std::optional(length_m * 1e3) : std::nullopt; };
    row.quantities = {{found->depth_m ? mm(*found->depth_m) : std::nullopt, {}, {}, ""},
                      {mm(found->speckle_to_m), {}, {}, ""},
                      {found->snr_dB.empty() ? std::nullopt : std::optional(found->snr_dB.back()), {}, {}, ""}};
    section.rows.push_back(std::move(row));
    return section;
}

std::vector<Section> report_sections(const Image& image, const ImageReport& report) {
    std::vector<Section> all{side_lobe_section(image, report.points),
                             grating_section(image, report.points),
                             region_section(image),
                             speckle_section(image),
                             slice_section(image),
                             distance_section(image, report.points),
                             report.regions_given ? Section{} : penetration_section(image)};
    std::erase_if(all, [](const Section& section) { return section.rows.empty() && section.notes.empty(); });
    return all;
}

}  // namespace echoloom
