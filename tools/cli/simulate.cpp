#include "sim/engine/simulate.h"

#include <omp.h>

#include "phantoms/phantom.h"
#include "sim/array/probe.h"
#include "sim/array/scan.h"
#include "tools/cli/commands.h"
#include "tools/cli/output.h"
#include "tools/cli/scan_facts.h"

namespace echoloom {

void run(const SimulateOptions& options) {
    if (options.threads > 0) {
        omp_set_num_threads(options.threads);
    }
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
    if (options.verbose && !needs.route_words.empty()) {
        note(needs.route_words, false);
    }
    if (options.dry_run) {
        print(needs.words + "\nframe rate " + frame_rate_formula(planned_recording(probe, scan)) + '\n');
        return;
    }
    refuse_full_disk(options.output, needs.file_bytes);
    note(needs.words, options.quiet);
    const std::string digest = simulate_to_file(phantom, probe, scan, settings, options.output);
    print(options.output.string() + "  " + digest + '\n');
}

}  // namespace echoloom
