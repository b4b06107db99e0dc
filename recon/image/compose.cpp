#include "recon/image/compose.h"

#include "recon/image/truth_marks.h"

namespace echoloom {

std::string title_of(const Image& image) {
    return image.recipe.title.empty() ? image.recipe.name : image.recipe.title;
}

GreyScale grey_scale_of(const Recipe& recipe) {
    return {recipe.reference_dB.value_or(0.0), recipe.dynamic_range_dB};
}

Canvas compose(std::span<const Image> images, const PageContent& content, std::span<const double> references,
               const PageLimits& limits, bool mark_truth) {
    const Fonts fonts = load_fonts();
    const PageLayout layout = lay_out(content, limits, fonts);
    Canvas canvas = draw_page(layout, content.scale, fonts);
    for (std::size_t i = 0; i < images.size(); ++i) {
        const Image& image = images[i];
        const Raster raster = scan_convert(image.grid, image.envelope, layout.pixels_per_m);
        draw_panel(canvas, layout.images[i], raster, content.scale, references[i]);
        if (mark_truth) {
            draw_truth(canvas, layout.images[i], raster.extent, layout.pixels_per_m, image.recording.truth,
                       limits.text_size);
        }
    }
    return canvas;
}

}  // namespace echoloom
