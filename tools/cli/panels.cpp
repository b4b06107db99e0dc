#include "recon/image/panels.h"

#include "sim/base/text.h"
#include "tools/cli/commands.h"
#include "tools/cli/output.h"

namespace echoloom {

void run(const PanelsCommand& command) {
    if (!command.titles.empty() && command.titles.size() != command.images.size()) {
        throw InputError({"--titles"}, "has " + counted(command.titles.size(), "title") + " for " +
                                           std::to_string(command.images.size()) + " images; give one for each");
    }
    const std::filesystem::path outputs[] = {command.output};
    refuse_existing(outputs, command.force, "-o");

    std::vector<Image> images;
    for (const std::filesystem::path& file : command.images) {
        images.push_back(read_image(file));
    }
    PanelsOptions options{
        .reference = command.common_peak ? PanelReference::common_peak : PanelReference::own_peak,
        .heading = command.heading,
        .dynamic_range_dB = command.range_dB,
        .mark_truth = command.mark_truth,
    };
    options.titles = command.titles;
    for (const std::filesystem::path& file : command.images) {
        options.names.push_back(file.string());
    }
    draw_panels(images, command.output, options);
    print(command.output.string() + '\n');
}

}  // namespace echoloom
