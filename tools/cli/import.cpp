#include <algorithm>
#include <cmath>
#include <fstream>
#include <sstream>

#include "sim/base/home.h"
#include "sim/base/text.h"
#include "sim/import/import_recording.h"
#include "tools/cli/commands.h"
#include "tools/cli/import_report.h"
#include "tools/cli/output.h"

namespace echoloom {

void run(const ImportOptions& options) {
    if (options.example) {
        print(own_file("sim/import/example.toml"));
        return;
    }
    const std::filesystem::path outputs[] = {options.output};
    if (!options.dry_run) {
        refuse_existing(outputs, options.force, "-o");
    }
    const Acquisition acquisition = read_acquisition(Settings::from_file(options.acquisition, options.settings));
    const ImportReport report =
        import_recording(acquisition, options.dry_run ? std::nullopt : std::optional(options.output), options.quiet);
    const Facts facts = import_facts(options.dry_run ? "not written" : options.output.string(), report);
    const std::span<const std::filesystem::path> written(outputs, options.dry_run ? 0 : 1);
    print(options.json ? with_written(facts.in_json(), written) : facts.in_words());
}

}  // namespace echoloom
