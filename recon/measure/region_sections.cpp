// What is measured in regions and on sheets: contrast, speckle, thickness of the slice, penetration.

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
/// Speckle is measured in bands of about this depth, at most this many.
constexpr double band_m = 10e-3;
constexpr int max_bands = 8;
constexpr std::size_t min_pixels = 60;
constexpr double min_cells = 8.0;
/// A value that deviates by more than this is given a reason, where one is known.
constexpr double large_error_dB = 2.0;

/// Lateral and axial -6 dB width of a point at some position.
struct Blur {
    double lateral_m = 0.0, axial_m = 0.0;
};

Blur blur_at(const Image& image, const Vec3& place) {
    const RecordingInfo& info = image.recording;
    Blur blur;
    blur.axial_m = axial_theory_m(info.probe, info.medium.sound_speed_m_s, 0.5);
    blur.lateral_m = lateral_theory_m(info, image.recipe, place, 0.5);
    const auto predicted = predict_point(info, image.recipe, place).lateral_6dB.width_m;
    if (predicted) blur.lateral_m = *predicted;
    if (!std::isfinite(blur.lateral_m)) blur.lateral_m = 0.0;
    return blur;
}

bool near_point(const Truth& truth, double x_m, double z_m, const Blur& blur) {
    return std::ranges::any_of(truth.points, [&](const TruePoint& point) {
        return std::abs(point.position_m.x() - x_m) < 2.0 * blur.lateral_m + 0.5e-3 &&
               std::abs(point.position_m.z() - z_m) < 3.0 * blur.axial_m;
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
    // A disc given by the user without a box of speckle around it is compared with whatever surrounds it.
    if (!parent && std::isnan(region.contrast_dB)) parent = &everywhere;
    const auto none = [&](const std::string& why) {
        row.note = why;
        return row;
    };
    if (!parent) return none("lies in no region of speckle");
    const Blur blur = blur_at(image, Vec3(region.center_m.x(), 0.0, region.center_m.z()));
    const double rim_x = std::min(0.5 * blur.lateral_m, max_rim * region.half_size_m.x());
    const double rim_z = std::min(0.5 * blur.axial_m, max_rim * region.half_size_m.z());
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
    // The two differ in level; a slope that both share comes from attenuation, gain and the beam.
    const std::array<const std::vector<RegionPixel>*, 2> both{&inside, &outside};
    const Trend trend(both, false);
    trend.flatten(inside);
    trend.flatten(outside);
    const auto speckle_size =
        predict_speckle_size(image.recording, image.recipe, Vec3(region.center_m.x(), 0.0, region.center_m.z()));
    const SpeckleCell cell = speckle_size ? SpeckleCell{speckle_size->lateral_m, speckle_size->axial_m}
                                          : SpeckleCell{blur.lateral_m, blur.axial_m};
    const RegionContrast measured = compare_regions(inside, outside, cell);
    const auto around = [](double value, double spread) {
        return std::pair(value - confidence * spread, value + confidence * spread);
    };
    const bool known = std::isfinite(region.contrast_dB);
    row.quantities[0] = {measured.contrast_dB,
                         around(measured.contrast_dB, measured.contrast_spread_dB),
                         {std::isnan(region.contrast_dB) ? std::nullopt : std::optional(region.contrast_dB)},
                         ""};
    row.quantities[1] = {
        measured.cnr, around(measured.cnr, measured.cnr_spread), {rayleigh_cnr(measured.contrast_dB)}, ""};
    row.quantities[2] = {measured.gcnr,
                         std::pair(std::max(0.0, measured.gcnr - confidence * measured.gcnr_spread),
                                   std::min(1.0, measured.gcnr + confidence * measured.gcnr_spread)),
                         {rayleigh_gcnr(measured.contrast_dB)},
                         ""};
    row.quantities[3] = {measured.cells_inside, {}, {}, ""};
    if (blur.lateral_m > 0.5 * region.half_size_m.x()) {
        row.note = "a point is " + percent_of(blur.lateral_m, 2.0 * region.half_size_m.x()) +
                   " as wide as this region here: the surroundings leak in";
    } else if (std::isinf(region.contrast_dB)) {
        row.note = "empty: what shows inside is side lobes, the edges of the slice, and noise";
    } else if (known && std::abs(measured.contrast_dB - region.contrast_dB) > large_error_dB &&
               std::abs(measured.contrast_dB - region.contrast_dB) > confidence * measured.contrast_spread_dB) {
        row.note = region.contrast_dB < 0.0 ? "filled in by side lobes of its brighter surroundings"
                                            : "the error is larger than so few cells explain: look at the picture";
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

std::string speckle_reason(const SpeckleStatistics& measured, double cell_lateral_m, double focus_lateral_m) {
    std::string reason;
    if (measured.snr_high < rayleigh_snr()) {
        reason = "SNR below 1.91: fewer than about ten scatterers per cell, or brightness that changes within the band";
    } else if (measured.snr_low > rayleigh_snr()) {
        reason = "SNR above 1.91: an envelope that was averaged, or filtered after detection";
    }
    if (cell_lateral_m > 1.5 * focus_lateral_m) {
        reason += (reason.empty() ? "" : "; ") + std::string("out of focus here: a lateral speckle size of ") +
                  percent_of(cell_lateral_m, focus_lateral_m) + " of that in focus is predicted";
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
    const double rim_x = std::min(blur.lateral_m, max_rim * band.region->half_size_m.x());
    const double rim_z = std::min(blur.axial_m, 0.2 * (band.to_m - band.from_m));
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
    const double predicted_lateral = predicted ? predicted->lateral_m : blur.lateral_m;
    const SpeckleCell cell{std::max(predicted_lateral, 1e-5), predicted ? predicted->axial_m : axial_theory};
    if (pixels.size() < min_pixels || area_of(pixels) < min_cells * cell.area_m2()) return std::nullopt;
    const std::array<const std::vector<RegionPixel>*, 1> all{&pixels};
    Trend(all, true).flatten(pixels);
    const SpeckleStatistics measured = measure_speckle(pixels, cell);
    const auto mm = [](std::optional<double> length_m) {
        return length_m ? std::optional(*length_m * 1e3) : std::nullopt;
    };
    row.quantities[0] = {measured.snr, std::pair(measured.snr_low, measured.snr_high), {rayleigh_snr()}, ""};
    row.quantities[1] = {measured.cells, {}, {}, ""};
    row.quantities[2] = {mm(measured.lateral_m),
                         {},
                         {mm(predicted_lateral), in_focus > 0.0 ? mm(in_focus) : std::nullopt},
                         measured.lateral_m
                             ? measured.lateral_pixels < 3.0 ? "fewer than 3 pixels to a speckle cell" : ""
                             : "band too narrow"};
    row.quantities[3] = {mm(measured.axial_m),
                         {},
                         {mm(cell.axial_m), mm(axial_theory)},
                         measured.axial_m ? measured.axial_pixels < 3.0 ? "fewer than 3 pixels to a speckle cell" : ""
                                          : "band too short"};
    row.note = speckle_reason(measured, predicted_lateral, in_focus);
    return row;
}

/// Whether the scan asked for noise.
bool noise_was_added(const Image& image) {
    try {
        return kept_settings(image.recording.source.scan, "the scan").has("noise_snr_dB");
    } catch (const InputError&) {
        return false;  // a recording from elsewhere may keep any text here
    }
}

}  // namespace

Section region_section(const Image& image) {
    Section section;
    section.key = "regions";
    section.title = "Regions against their surroundings";
    section.explanation =
        "On the linear envelope, without a rim of half a point's width on both sides of the border, and with the "
        "slope of brightness that both sides share removed. contrast: of mean powers; true: that of the phantom. "
        "CNR: difference of means over the root of the sum of variances (Patterson & Foster 1983, from memory). "
        "gCNR: 1 - overlap of the two distributions (Rodriguez-Molares et al. 2020), cross-validated against the "
        "bias of histograms. theory: two regions of fully developed (Rayleigh) speckle of the measured contrast. "
        "+-: 95 %, from the number of speckle cells.";
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
         {"theory"},
         Comparison::ratio,
         "|mean inside - mean outside| / sqrt(var inside + var outside) of the envelope; theory: Rayleigh speckle, "
         "1.913 (1 - sqrt C) / sqrt(1 + C)"},
        {"gcnr",
         "gCNR",
         2,
         {"theory"},
         Comparison::ratio,
         "1 - overlap of the envelope's distributions, two-fold cross-validated; theory: Rayleigh speckle, "
         "(1 - C) C^(C / (1 - C))"},
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
        "In bands of depth, without inclusions and points, slow changes of brightness removed. SNR: mean over standard "
        "deviation of the envelope; theory: fully developed speckle, 1.913 (Burckhardt 1978; Wagner et al. 1983, from "
        "memory); +-: 95 %. speckle size: integral of the envelope's covariance (Wagner et al. 1983); predicted: from "
        "the point response computed for this recipe over the pulse's spectrum; theory: lateral, both apertures in "
        "focus, continuous wave (two equal rectangular ones: 0.872 wavelength z/D); axial, 0.455 c / bandwidth.";
    section.kinds = {
        {"snr",
         "SNR",
         2,
         {"theory"},
         Comparison::ratio,
         "mean over standard deviation of the envelope; theory: fully developed (Rayleigh) speckle, 1.913"},
        {"cells", "cells", 0, {}, Comparison::none, "area over that of a speckle cell"},
        {"lateral_speckle_size_mm",
         "lateral speckle size, mm",
         3,
         {"predicted", "theory"},
         Comparison::ratio,
         "integral of the envelope's normalised lateral covariance, to 2 cells; theory: both apertures in focus, "
         "continuous wave, 0.872 lambda z / D for two equal rectangular ones"},
        {"axial_speckle_size_mm",
         "axial speckle size, mm",
         3,
         {"predicted", "theory"},
         Comparison::ratio,
         "the same, axial; theory: Gaussian echo, 0.45537 c / (B f0)"}};
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
        "-6 dB length in depth of a Gaussian with the spread of the sheet's echo, the pulse's own removed, over "
        "tan(tilt) (Skolnick 1991). +-: 95 %, from the number of speckle cells. predicted: the two-way response of a "
        "point in elevation, computed for this recipe.";
    section.kinds = {{"thickness_mm",
                      "thickness, mm",
                      2,
                      {"predicted"},
                      Comparison::ratio,
                      "full width at half amplitude in elevation (M. L. Skolnick, Radiology 180, 286-288, 1991)"}};
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
            row.note = "out of focus in elevation the echo is longer in time as well: a sheet looks even thicker";
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
        "The depth at which speckle and noise have equal power (signal-to-noise ratio 1; IEC 61391-2:2010, 7.1, the "
        "ratio from memory). The noise is measured below the phantom and carried to other depths by the recipe's "
        "weights and gain.";
    section.kinds = {
        {"depth_mm", "penetration, mm", 1, {}, Comparison::none, "depth at which the signal-to-noise ratio falls to 1"},
        {"deepest_speckle_mm", "deepest speckle, mm", 1, {}, Comparison::none, "end of the speckle in the image"},
        {"snr_at_end_dB", "SNR there, dB", 1, {}, Comparison::none, "signal-to-noise ratio at that depth"}};
    const auto measured = measure_penetration(image);
    // Below the phantom, a simulated recording without noise holds clutter, which is no measure of penetration.
    const bool simulated = !image.recording.source.scan.empty();
    if (!measured || (simulated && !noise_was_added(image))) return section;
    SectionRow row{"", std::nullopt, std::nullopt, {}, measured->reason};
    const auto mm = [](double length_m) { return length_m > 0.0 ? std::optional(length_m * 1e3) : std::nullopt; };
    row.quantities = {{measured->depth_m ? mm(*measured->depth_m) : std::nullopt, {}, {}, ""},
                      {mm(measured->speckle_to_m), {}, {}, ""},
                      {measured->snr_dB.empty() ? std::nullopt : std::optional(measured->snr_dB.back()), {}, {}, ""}};
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
