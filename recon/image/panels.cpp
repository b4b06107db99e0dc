#include "recon/image/panels.h"

#include <algorithm>

#include "recon/image/compose.h"
#include "recon/image/description.h"
#include "recon/image/panel_captions.h"
#include "recon/image/png.h"
#include "sim/base/error.h"
#include "sim/base/text.h"

namespace echoloom {

namespace {

/// From the highest white to the lowest black of all recipes, unless a range is asked for.
GreyScale common_scale(std::span<const Image> images, std::optional<double> range_dB) {
    GreyScale common = grey_scale_of(images.front().recipe);
    double black_dB = common.black_dB();
    for (const Image& image : images) {
        const GreyScale own = grey_scale_of(image.recipe);
        common.white_dB = std::max(common.white_dB, own.white_dB);
        black_dB = std::min(black_dB, own.black_dB());
    }
    common.range_dB = range_dB.value_or(common.white_dB - black_dB);
    return common;
}

std::vector<double> references(std::span<const Image> images, PanelReference reference) {
    std::vector<double> peaks;
    for (const Image& image : images) {
        peaks.push_back(peak_amplitude(image.envelope));
    }
    if (reference == PanelReference::common_peak) {
        std::ranges::fill(peaks, std::ranges::max(peaks));
    }
    return peaks;
}

}  // namespace

void draw_panels(std::span<const Image> images, const std::filesystem::path& png, const PanelsOptions& options) {
    if (images.size() < 2 || images.size() > 6) {
        throw InputError(counted(images.size(), "image") + " for one page of panels; give 2 to 6");
    }
    if (!options.titles.empty() && options.titles.size() != images.size()) {
        throw InputError(counted(options.titles.size(), "title") + " for " + counted(images.size(), "image") +
                         "; give one for each, or none");
    }
    PageContent content;
    char letter = 'A';
    const std::vector<Extent> extents = panel_extents(images);
    const std::vector<std::string> titles =
        options.titles.empty() ? panel_titles(images, options.names) : options.titles;
    for (std::size_t i = 0; i < images.size(); ++i) {
        content.panels.push_back({extents[i], titles[i], std::string(1, letter++), fan_edge(images[i].grid)});
    }
    content.heading = options.heading;
    content.caption = options.caption.value_or(shared_caption(images));
    content.caution = caution(std::ranges::all_of(images, is_simulated));
    content.scale = common_scale(images, options.dynamic_range_dB);
    content.scale_name = options.reference == PanelReference::own_peak ? "envelope (dB re each image\u2019s own peak)"
                                                                       : "envelope (dB re the largest peak of all)";
    const std::vector<double> peaks = references(images, options.reference);
    write_png(png, compose(images, content, peaks, options.limits, options.mark_truth));
}

}  // namespace echoloom
