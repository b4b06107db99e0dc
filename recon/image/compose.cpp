#include "recon/image/compose.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>

#include "recon/image/truth_marks.h"

namespace echoloom {

namespace {

/// Width of a panel over the height of the highest.
constexpr double min_aspect = 0.14;
constexpr double negligible = 0.02;  ///< of a panel's depths

/// Where every extent loses less than a negligible part. (Not for fans, whose deep ends are arcs.)
void cut_to_common_depths(std::vector<Extent>& extents) {
    double least = extents.front().min_z_m;
    double most = extents.front().max_z_m;
    for (const Extent& extent : extents) {
        least = std::max(least, extent.min_z_m);
        most = std::min(most, extent.max_z_m);
    }
    const bool alike = std::ranges::all_of(extents, [&](const Extent& extent) {
        return extent.height_m() - (most - least) < negligible * extent.height_m();
    });
    if (alike) {
        for (Extent& extent : extents) {
            extent.min_z_m = least;
            extent.max_z_m = most;
        }
    }
}

}  // namespace

Raster fitted(Raster raster, const Extent& extent) {
    Raster result{extent,
                  raster.pixels_per_m,
                  pixel_count(extent.width_m(), raster.pixels_per_m),
                  pixel_count(extent.height_m(), raster.pixels_per_m),
                  {}};
    const auto shift = [&](double from_m, double to_m) {
        return static_cast<int>(std::lround((to_m - from_m) * raster.pixels_per_m));
    };
    const int right = shift(raster.extent.min_x_m, extent.min_x_m);
    const int down = shift(raster.extent.min_z_m, extent.min_z_m);
    if (right == 0 && down == 0 && result.width == raster.width && result.height == raster.height) {
        result.values = std::move(raster.values);
        return result;
    }
    for (int row = 0; row < result.height; ++row) {
        for (int column = 0; column < result.width; ++column) {
            const int x = column + right;
            const int y = row + down;
            const bool inside = x >= 0 && x < raster.width && y >= 0 && y < raster.height;
            result.values.push_back(inside ? raster.at(x, y) : std::numeric_limits<float>::quiet_NaN());
        }
    }
    return result;
}

std::vector<Extent> panel_extents(std::span<const Image> images) {
    std::vector<Extent> extents;
    for (const Image& image : images) {
        extents.push_back(scanned_extent(image.grid));
    }
    if (std::ranges::all_of(images, [](const Image& image) { return fan_edge(image.grid).empty(); })) {
        cut_to_common_depths(extents);
    }
    double tallest_m = 0.0;
    for (const Extent& extent : extents) {
        tallest_m = std::max(tallest_m, extent.height_m());
    }
    for (Extent& extent : extents) {
        const double margin_m = 0.5 * std::max(0.0, min_aspect * tallest_m - extent.width_m());
        extent.min_x_m -= margin_m;
        extent.max_x_m += margin_m;
    }
    return extents;
}

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
        const Raster raster = fitted(scan_convert(image.grid, image.envelope, layout.pixels_per_m), layout.extents[i]);
        draw_panel(canvas, layout.images[i], raster, content.scale, references[i]);
        if (mark_truth) {
            draw_truth(canvas, layout.images[i], raster.extent, layout.pixels_per_m, image.recording.truth,
                       limits.text_size);
        }
    }
    draw_angle_scales(canvas, layout, fonts);
    return canvas;
}

}  // namespace echoloom
