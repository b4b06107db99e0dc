#include <algorithm>
#include <cmath>
#include <fstream>
#include <sstream>

#include "sim/base/shipped.h"
#include "sim/base/text.h"
#include "sim/import/import_recording.h"
#include "tools/cli/commands.h"
#include "tools/cli/import_report.h"
#include "tools/cli/output.h"

namespace echoloom {

namespace {

void print_example() {
    const std::filesystem::path file = home_folder() / "sim/import/example.toml";
    std::ifstream stream(file);
    std::ostringstream text;
    if (!(text << stream.rdbuf())) {
        throw MachineError(at({file.string()}, "the example is not where it was shipped; set ECHOLOOM_HOME"));
    }
    print(text.str());
}

}  // namespace

void run(const ImportOptions& options) {
    if (options.example) {
        print_example();
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
