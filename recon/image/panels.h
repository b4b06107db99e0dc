#pragma once
/// Two to six images side by side as one PNG, on one scale of length and one of grey.

#include <filesystem>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "recon/image/image.h"
#include "recon/image/page_layout.h"

namespace echoloom {

enum class PanelReference {
    own_peak,     ///< 0 dB is each image's own peak
    common_peak,  ///< 0 dB is the largest peak of all
};

struct PanelsOptions {
    PanelReference reference = PanelReference::own_peak;
    std::string heading = {};                               ///< over all panels; none by default
    std::vector<std::string> titles = {};                   ///< one for each image; default what tells them apart
    std::vector<std::string> names = {};                    ///< of the images' files, for titles that would be equal
    std::optional<std::string> caption = std::nullopt;      ///< default what all images share
    std::optional<double> dynamic_range_dB = std::nullopt;  ///< default: wide enough for every recipe's
    bool mark_truth = false;                                ///< outlines and points of the ground truth
    PageLimits limits = {};
};

/// Panels are lettered A, B, C ... and titled by what tells them apart. The same images give the same bytes.
/// Throws InputError for fewer than 2 or more than 6 images or one that cannot be drawn, MachineError as draw_picture.
void draw_panels(std::span<const Image> images, const std::filesystem::path& png, const PanelsOptions& options = {});

}  // namespace echoloom
