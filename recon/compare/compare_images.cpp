#include <algorithm>
#include <cmath>
#include <cstdio>

#include "recon/compare/comparison.h"
#include "recon/compare/similarity.h"
#include "recon/image/compose.h"
#include "recon/measure/grid_place.h"
#include "sim/base/error.h"
#include "sim/base/text.h"

namespace echoloom {

namespace {

constexpr double same_place_m = 1e-9;

double apart_m(const std::vector<double>& a, const std::vector<double>& b) {
    double max_apart = 0.0;
    for (std::size_t n = 0; n < a.size(); ++n) {
        max_apart = std::max(max_apart, std::abs(a[n] - b[n]));
    }
    return max_apart;
}

std::string size_text(const Image& image) {
    return counted(image.columns, "column") + " by " + counted(image.depths, "depth");
}

/// Why the samples of the two cannot be compared; empty where they can.
std::string grid_difference(const Image& before, const Image& after) {
    if (before.grid.index() != after.grid.index()) {
        return "one image consists of lines, the other of pixels";
    }
    if (before.columns != after.columns || before.depths != after.depths) {
        return "the image before has " + size_text(before) + ", the one after " + size_text(after);
    }
    double apart = apart_m(depths_of(before.grid), depths_of(after.grid));
    if (const auto* lines = std::get_if<LineGrid>(&before.grid)) {
        const auto& others = std::get<LineGrid>(after.grid);
        const double longest = lines->depth_m.empty() ? 0.0 : lines->depth_m.back();
        for (std::size_t n = 0; n < before.columns; ++n) {
            apart = std::max({apart, (lines->origin_m[n] - others.origin_m[n]).norm(),
                              (lines->direction[n] - others.direction[n]).norm() * longest});
        }
    } else {
        apart =
            std::max(apart, apart_m(std::get<CartesianGrid>(before.grid).x_m, std::get<CartesianGrid>(after.grid).x_m));
    }
    return apart > same_place_m ? "samples lie up to " + plain(apart * 1e3) + " mm from their former positions" : "";
}

std::string place_text(const Image& image, std::size_t column, std::size_t depth) {
    const Column line = column_at(image.grid, static_cast<double>(column));
    const Vec3 place = line.origin_m + depths_of(image.grid)[depth] * line.direction;
    char text[64];
    std::snprintf(text, sizeof text, "x %.2f, depth %.2f mm", place.x() * 1e3 + 0.0, place.z() * 1e3);
    return text;
}

std::string bulk_text(const Image& image, const Difference& difference) {
    const auto& depths = depths_of(image.grid);
    char text[128];
    std::snprintf(text, sizeof text, "80 %% of the difference between depths %.1f and %.1f mm, columns %zu and %zu",
                  depths[difference.samples.from] * 1e3, depths[difference.samples.to] * 1e3, difference.rows.from,
                  difference.rows.to);
    return text;
}

double mean_step_m(const std::vector<double>& places) {
    return places.size() > 1 ? (places.back() - places.front()) / static_cast<double>(places.size() - 1) : 0.0;
}

/// Only where a small change explains most of what differs; a linear fit of a larger shift would be wrong.
std::string as_if_text(const Image& image, const ShiftFit& fit) {
    const double level_dB = 20.0 * std::log10(std::max(1e-9, 1.0 + fit.gain));
    const double deeper_um = fit.samples * mean_step_m(depths_of(image.grid)) * 1e6;
    if (fit.explained < 0.5 || std::abs(fit.samples) > 2.0 || std::abs(fit.rows) > 1.0) {
        return "";
    }
    char text[192];
    std::snprintf(text, sizeof text,
                  "as if all were %+.4f dB in level, %+.3f um deeper and shifted by %+.3f columns (explains %.0f %%)",
                  level_dB, deeper_um, fit.rows, 100.0 * fit.explained);
    return text;
}

void add_field(const Image& before, const std::string& name, const Difference& difference, const Tolerances& tolerances,
               PairComparison& comparison) {
    const std::string where = place_text(before, difference.largest_row, difference.largest_sample);
    comparison.differences.push_back(
        {name, difference, where, bulk_text(before, difference), as_if_text(before, difference.fit)});
    comparison.checks.push_back(
        judge_limit(name + ".difference_percent", "whole image", 100.0 * difference.relative_l2, tolerances));
    comparison.checks.push_back(judge_limit(name + ".largest_dB", where, difference.largest_dB, tolerances));
}

std::string in_quotes(const std::string& text) {
    return "'" + text + "'";
}

/// What else differs.
void add_notes(const Image& before, const Image& after, PairComparison& comparison) {
    if (before.recording.content_digest != after.recording.content_digest) {
        comparison.notes.push_back("the two come from different recordings");
    }
    Recipe old_recipe = before.recipe, new_recipe = after.recipe;
    if (old_recipe.name != new_recipe.name) {
        comparison.notes.push_back("recipe " + in_quotes(old_recipe.name) + " before, " + in_quotes(new_recipe.name) +
                                   " after");
    }
    for (Recipe* recipe : {&old_recipe, &new_recipe}) {
        recipe->name.clear();
        recipe->title.clear();
    }
    if (recipe_toml(old_recipe) != recipe_toml(new_recipe)) {
        comparison.notes.push_back("the settings of the two recipes differ");
    }
    if (before.sound_speed_m_s != after.sound_speed_m_s) {
        comparison.notes.push_back("formed for " + plain(before.sound_speed_m_s) + " m/s before, " +
                                   plain(after.sound_speed_m_s) + " m/s after");
    }
}

}  // namespace

void compare_samples(const Image& before, const Image& after, const Tolerances& tolerances,
                     PairComparison& comparison) {
    add_field(before, "image", field_difference(before.envelope, after.envelope, before.columns, before.depths),
              tolerances, comparison);
    const bool both_kept = before.real.size() == before.envelope.size() && after.real.size() == after.envelope.size();
    if (both_kept) {
        add_field(before, "image_rf", field_difference(before.real, after.real, before.columns, before.depths),
                  tolerances, comparison);
    }
    if (both_kept && before.imaginary.size() == before.real.size() && after.imaginary.size() == after.real.size()) {
        add_field(before, "image_rf",
                  field_difference(before.imaginary, after.imaginary, before.columns, before.depths), tolerances,
                  comparison);
        comparison.differences.back().name = "image_rf (quadrature)";
        for (auto check = comparison.checks.end() - 2; check != comparison.checks.end(); ++check) {
            check->where += " (quadrature)";
        }
    }
    if (before.real.size() != after.real.size() || before.imaginary.size() != after.imaginary.size()) {
        comparison.notes.push_back("only one of the two contains radio-frequency samples");
    }
}

PairComparison compare_images(const Image& before, const Image& after, const Tolerances& tolerances) {
    PairComparison comparison;
    comparison.kind = "image";
    add_notes(before, after, comparison);
    comparison.reason = grid_difference(before, after);
    if (comparison.reason.empty()) {
        compare_samples(before, after, tolerances, comparison);
        const bool same_bits = std::ranges::all_of(
            comparison.differences, [](const NamedDifference& samples) { return samples.difference.identical; });
        if (same_bits) {
            comparison.verdict = verdict_of(comparison);
            return comparison;  // nothing measured in them can differ
        }
        const double similarity = structural_similarity(before.envelope, after.envelope, before.columns, before.depths,
                                                        grey_scale_of(before.recipe), peak_amplitude(before.envelope));
        comparison.checks.push_back(judge_limit("image.similarity", "whole image", similarity, tolerances));
    }
    const MetricPair metrics = metrics_of_both(before, after);
    if (!metrics.aimed_at.empty()) {
        comparison.notes.push_back(metrics.aimed_at + "; both images are measured at those of the image before");
    }
    for (Check& check : judge(metrics.before, metrics.after, tolerances)) {
        comparison.checks.push_back(std::move(check));
    }
    comparison.verdict = verdict_of(comparison);
    return comparison;
}

}  // namespace echoloom
