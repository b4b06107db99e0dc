#include "recon/image/picture.h"

#include "recon/image/compose.h"
#include "recon/image/description.h"
#include "recon/image/png.h"

namespace echoloom {

void draw_picture(const Image& image, const std::filesystem::path& png, const PictureOptions& options) {
    PageContent content;
    content.panels.push_back(
        {panel_extents({&image, 1}).front(), options.title.value_or(title_of(image)), "", fan_edge(image.grid)});
    content.caption =
        options.caption.value_or(describe_recording(image.recording) + "; " + describe_recipe(image) + ".");
    content.caution = caution(is_simulated(image));
    content.scale = grey_scale_of(image.recipe);
    content.scale_name = "envelope (dB re peak)";
    const double reference = peak_amplitude(image.envelope);
    write_png(png, compose({&image, 1}, content, {&reference, 1}, options.limits, options.mark_truth));
}

}  // namespace echoloom
