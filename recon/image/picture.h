#pragma once
/// One image as a PNG: the envelope in dB, axes in mm, a grey bar, a title and a caption.

#include <filesystem>
#include <optional>
#include <string>

#include "recon/image/image.h"
#include "recon/image/page_layout.h"

namespace echoloom {

struct PictureOptions {
    std::optional<std::string> title = std::nullopt;    ///< default the recipe's title
    std::optional<std::string> caption = std::nullopt;  ///< default the recording and the recipe
    bool mark_truth = false;                            ///< outlines and points of the ground truth
    PageLimits limits{.text_size = 26.0, .min_text_size = 21.0};
};

/// Range and white level are the recipe's (`dynamic_range_dB`, `reference_dB`), relative to the envelope's peak. The
/// same image gives the same bytes. Throws InputError for an image that cannot be drawn, MachineError for a missing
/// font or a file that cannot be written.
void draw_picture(const Image& image, const std::filesystem::path& png, const PictureOptions& options = {});

}  // namespace echoloom
