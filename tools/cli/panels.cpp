#include "recon/image/panels.h"

#include "sim/base/text.h"
#include "tools/cli/commands.h"
#include "tools/cli/output.h"

namespace echoloom {

void run(const PanelsCommand& command) {
    if (!command.titles.empty() && command.titles.size() != command.images.size()) {
        throw InputError({"--title"}, "is given " + counted(command.titles.size(), "time") + " for " +
                                          counted(command.images.size(), "image") +
                                          "; give one for each, in their order");
    }
    const std::filesystem::path output = command.output.value_or(command.images.front().parent_path() / "panels.png");
    refuse_existing({&output, 1}, command.force, "-o");

    std::vector<Image> images;
    for (const std::filesystem::path& file : command.images) {
        images.push_back(read_image(file));
    }
    PanelsOptions options{
        .reference = command.common_peak ? PanelReference::common_peak : PanelReference::own_peak,
        .heading = command.heading,
        .dynamic_range_dB = command.dynamic_range_dB,
        .mark_truth = command.mark_truth,
    };
    options.titles = command.titles;
    for (const std::filesystem::path& file : command.images) {
        options.names.push_back(file.string());
    }
    draw_panels(images, output, options);
    Results results(command.json);
    results.written(output);
    results.finish();
}

}  // namespace echoloom
