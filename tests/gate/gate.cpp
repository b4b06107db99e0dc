#include "tests/gate/gate.h"

#include <algorithm>
#include <chrono>

#include "phantoms/phantom.h"
#include "recon/beamform/beamform.h"
#include "recon/compare/comparison_output.h"
#include "recon/compare/difference_picture.h"

namespace echoloom::gate {

namespace {

using Clock = std::chrono::steady_clock;

std::filesystem::path make_recording(const RecordingScenario& scenario, const Options& options) {
    std::filesystem::path file = options.recordings / (scenario.name + ".h5");
    if (options.reuse && std::filesystem::exists(file)) {
        return file;
    }
    const Phantom phantom = load_phantom(scenario.phantom, scenario.phantom_settings);
    const Probe probe = load_probe(scenario.probe, scenario.probe_settings);
    const Scan scan = load_scan(scenario.scan, probe, scenario.scan_settings);
    simulate_to_file(phantom, probe, scan, options.engine, file);
    return file;
}

NamedDifference same_bits() {
    NamedDifference same{"image", {}, "", "", ""};
    same.difference.identical = true;
    return same;
}

/// Fills in the comparison; draws a picture where something differs.
void hold_against(const Baseline& before, const Image& image, const Options& options, const GateTolerances& both,
                  Result& result) {
    PairComparison& comparison = result.comparison;
    result.same_echoes = before.recording_digest == result.fresh.recording_digest;
    result.same_image = before.image_digest == result.fresh.image_digest;
    const Tolerances& tolerances = result.same_echoes ? both.same_echoes : both.other_echoes;
    std::optional<Image> thin_before;
    const Image thin_after = thinned(image, before.stride);
    if (result.same_image) {
        comparison.differences.push_back(same_bits());
    } else if ((thin_before = thinned_before(before, image))) {
        compare_samples(*thin_before, thin_after, tolerances, comparison);
    } else {
        comparison.reason = "sample positions differ: before, " + before.grid + "; after, " + result.fresh.grid;
    }
    for (Check& check : judge(before.metrics, result.fresh.metrics, tolerances)) {
        comparison.checks.push_back(std::move(check));
    }
    comparison.verdict = verdict_of(comparison);
    if (thin_before && !passes(comparison.verdict)) {
        result.picture = options.pictures / (result.name + ".png");
        const NamedDifference& differing = comparison.differences.front();
        draw_difference(*thin_before, thin_after,
                        result.name + ", of which one column in " + std::to_string(before.stride.column) +
                            " and one depth in " + std::to_string(before.stride.depth) + " is kept. " +
                            verdict_sentence(comparison) + " Largest difference at " + differing.where + ".",
                        *result.picture);
    }
}

Result make_image(RecordingReader& recording, const std::string& name, const ImageScenario& scenario,
                  const Options& options, const GateTolerances& tolerances) {
    const auto start = Clock::now();
    const Recipe recipe = load_recipe(scenario.recipe, scenario.settings);
    const Image image = form_image(beamform(recording, recipe, true), recipe, recording.info());
    Result result;
    result.name = name;
    result.fresh = baseline_of(image);
    result.comparison.kind = "image";
    result.comparison.before = (options.baseline / (name + ".json")).string();
    result.comparison.after = name;
    const auto before = read_baseline(options.baseline, name);
    result.known = before.has_value();
    if (before) {
        hold_against(*before, image, options, tolerances, result);
    } else {
        result.comparison.reason = "it has no baseline yet; look at it, then run tools/gate accept " + name;
    }
    result.seconds = std::chrono::duration<double>(Clock::now() - start).count();
    return result;
}

}  // namespace

bool wanted(const Options& options, const std::string& recording, const std::string& image) {
    return options.only.empty() || std::ranges::any_of(options.only, [&](const std::string& word) {
               return word == recording || word == recording + "." + image;
           });
}

std::vector<Result> run(const std::vector<RecordingScenario>& scenarios, const Options& options,
                        const GateTolerances& tolerances, const std::function<void(const Result&)>& done) {
    std::vector<Result> results;
    for (const RecordingScenario& scenario : scenarios) {
        const bool any = std::ranges::any_of(
            scenario.images, [&](const ImageScenario& image) { return wanted(options, scenario.name, image.name); });
        if (!any) {
            continue;
        }
        RecordingReader recording(make_recording(scenario, options));
        for (const ImageScenario& image : scenario.images) {
            if (!wanted(options, scenario.name, image.name)) {
                continue;
            }
            results.push_back(make_image(recording, scenario.name + "." + image.name, image, options, tolerances));
            done(results.back());
            if (options.until_first && !passes(results.back().comparison.verdict)) {
                return results;
            }
        }
    }
    return results;
}

}  // namespace echoloom::gate
