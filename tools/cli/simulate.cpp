#include "sim/engine/simulate.h"

#include "phantoms/phantom.h"
#include "recon/image/frame_rate.h"
#include "sim/array/probe.h"
#include "sim/array/scan.h"
#include "tools/cli/commands.h"
#include "tools/cli/output.h"
#include "tools/cli/scan_facts.h"

namespace echoloom {

namespace {

nlohmann::ordered_json dry_run_facts(const Estimate& needs, const Probe& probe, const Scan& scan) {
    const auto rate = frame_rate(planned_recording(probe, scan));
    return {{"memory_bytes", needs.memory_bytes},
            {"file_bytes", needs.file_bytes},
            {"candidate_scatterers", needs.candidate_scatterers},
            {"events", scan.events.size()},
            {"channels", scan.channels()},
            {"samples", scan.samples},
            {"max_frame_rate_Hz",
             rate ? nlohmann::ordered_json(rate->max_frame_rate_Hz()) : nlohmann::ordered_json(nullptr)}};
}

}  // namespace

void run(const SimulateOptions& options) {
    constexpr double GiB = 1024.0 * 1024.0 * 1024.0;
    const std::filesystem::path outputs[] = {options.output};
    if (!options.dry_run) {
        refuse_existing(outputs, options.force, "-o");
    }
    const Phantom phantom = load_phantom(options.phantom, options.phantom_settings);
    const Probe probe = load_probe(options.probe, options.probe_settings);
    const Scan scan = load_scan(options.scan, probe, options.scan_settings);
    std::optional<Route> route;
    if (!options.route.empty()) {
        route = options.route == "direct" ? Route::direct : Route::matrix;
    }
    const EngineSettings settings{.threads = options.threads,
                                  .cells_per_block = options.cells_per_block,
                                  .memory_limit_bytes = options.memory_GiB * GiB,
                                  .quiet = options.quiet,
                                  .route = route};
    const Estimate needs = estimate(phantom, probe, scan, settings);
    if (options.verbose && !needs.route_text.empty()) {
        note(needs.route_text, options.quiet);
    }
    Results results(options.json);
    if (options.dry_run) {
        if (!options.json) {
            print(needs.words + "\nframe rate " + frame_rate_formula(planned_recording(probe, scan)) + '\n');
        }
        results.fact(dry_run_facts(needs, probe, scan));
        results.finish();
        return;
    }
    refuse_full_disk(options.output, needs.file_bytes);
    note(needs.words, options.quiet);
    const std::string digest = simulate_to_file(phantom, probe, scan, settings, options.output);
    results.written(options.output, digest);
    results.fact({{"content_digest", digest}});
    results.finish();
}

}  // namespace echoloom
