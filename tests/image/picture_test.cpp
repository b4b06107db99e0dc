#include "recon/image/picture.h"

#include <gtest/gtest.h>
#include <omp.h>

#include <algorithm>
#include <cmath>

#include "recon/image/compose.h"
#include "recon/image/description.h"
#include "recon/image/panels.h"
#include "sim/base/error.h"
#include "tests/image/read_png.h"
#include "tests/image/synthetic.h"

namespace echoloom {
namespace {

using synthetic::image_of;
using synthetic::parallel_lines;
using synthetic::spot;

constexpr double mm = 1e-3;

/// One bright point in a field 20 dB below it.
Image point_image(double x_mm, double z_mm) {
    Image image = image_of(parallel_lines(128, 38.0 * mm, 60.0 * mm, 0.02 * mm),
                           [=](double x, double z) { return spot(x - x_mm * mm, z - z_mm * mm, 1.0 * mm, 0.3 * mm); });
    const float peak = std::ranges::max(image.envelope);
    for (float& value : image.envelope) {
        value = std::max(value, 0.1F * peak);
    }
    image.recipe.name = "point";
    image.recipe.title = "A point";
    image.recipe.dynamic_range_dB = 60.0;
    image.recording.source.phantom = "invented";
    return image;
}

/// Pages small enough to draw many.
PageLimits small_page() {
    PageLimits limits;
    limits.max_pixels_per_mm = 6.0;
    limits.min_longest_side = 100.0;
    return limits;
}

PageContent content_for(const Image& image) {
    return {{{scanned_extent(image.grid), "A point", ""}}, "", "", caution(true), {0.0, 60.0}, "dB"};
}

TEST(Picture, PointLandsWhereTheAxesSay) {
    const Image image = point_image(10.0, 30.0);
    const PageContent content = content_for(image);
    const double peak = peak_amplitude(image.envelope);
    const PageLimits limits;
    const Canvas canvas = compose({&image, 1}, content, {&peak, 1}, limits, false);
    const PageLayout layout = lay_out(content, limits, load_fonts());
    const Rect place = layout.images.front();

    // The amplitude's centre, weighed by what stands out of the field.
    double sum = 0.0;
    double x = 0.0;
    double y = 0.0;
    for (int row = place.y; row < place.bottom(); ++row) {
        for (int column = place.x; column < place.right(); ++column) {
            const double above = std::max(0, canvas.at(column, row).red - 200);
            sum += above;
            x += above * (column + 0.5);
            y += above * (row + 0.5);
        }
    }
    ASSERT_GT(sum, 0.0);
    const auto labelled = [&](const std::string& label, bool lateral) {
        for (const PlacedText& text : layout.texts) {
            const bool below = text.box.y >= place.bottom() && text.box.y < layout.bar.y;
            if (text.lines.front() == label && below == lateral) {
                return lateral ? text.box.x + 0.5 * text.box.width : text.box.y + 0.5 * text.box.height;
            }
        }
        return -1.0;
    };
    EXPECT_NEAR(x / sum, labelled("10", true), 1.5);
    EXPECT_NEAR(y / sum, labelled("30", false), 1.5);
    // And the labels themselves to less than a pixel.
    EXPECT_NEAR(x / sum, place.x + 29.0 * mm * layout.pixels_per_m, 0.1);
    EXPECT_NEAR(y / sum, place.y + 28.0 * mm * layout.pixels_per_m, 0.1);
}

TEST(Picture, GreyIsTheLevel) {
    const Image image = point_image(10.0, 30.0);
    const PageContent content = content_for(image);
    const double peak = peak_amplitude(image.envelope);
    const Canvas canvas = compose({&image, 1}, content, {&peak, 1}, {}, false);
    const PageLayout layout = lay_out(content, {}, load_fonts());
    const Rect place = layout.images.front();
    EXPECT_EQ(canvas.at(place.x + 5, place.y + 5), grey(170));  // -20 dB of 60
    // The bar shows the same grey at -20 dB, two thirds of the way along.
    EXPECT_EQ(canvas.at(layout.bar.x + layout.bar.width * 2 / 3, layout.bar.y + 5), grey(170));
    EXPECT_LE(canvas.at(layout.bar.x + 1, layout.bar.y + 5).red, 2);
    EXPECT_GE(canvas.at(layout.bar.right() - 2, layout.bar.y + 5).red, 253);
}

TEST(Picture, OutsideTheScanIsNeitherBlackNorPage) {
    Image image =
        image_of(parallel_lines(32, 20.0 * mm, 40.0 * mm, 0.05 * mm, 0.35), [](double, double) { return 1e-6; });
    image.envelope.front() = 1.0F;
    const PageContent content = content_for(image);
    const double peak = 1.0;
    const Canvas canvas = compose({&image, 1}, content, {&peak, 1}, {}, false);
    const Rect place = lay_out(content, {}, load_fonts()).images.front();
    EXPECT_EQ(canvas.at(place.right() - 3, place.y + 3), outside_colour);
    EXPECT_EQ(canvas.at(place.x + place.width / 2, place.y + place.height / 2), grey(0));
    EXPECT_NE(outside_colour, page_colour);
}

TEST(Picture, FileIsReadableAndTheSameOnEveryRun) {
    const Image image = point_image(-7.0, 20.0);
    const std::filesystem::path first = temporary("picture_first.png");
    const std::filesystem::path second = temporary("picture_second.png");
    const int before = omp_get_max_threads();
    omp_set_num_threads(1);
    draw_picture(image, first);
    omp_set_num_threads(3);
    draw_picture(image, second);
    omp_set_num_threads(before);
    EXPECT_EQ(bytes_of(first), bytes_of(second));
    const ReadBack read = read_png(first);
    EXPECT_GT(read.width, 500);
    EXPECT_GT(read.height, 700);
    EXPECT_EQ(read.components, 1);
    EXPECT_EQ(read.at(0, 0), page_colour);
}

TEST(Picture, ReferenceLevelAndRangeAreTheRecipes) {
    Image image = point_image(0.0, 30.0);
    image.recipe.reference_dB = -10.0;
    image.recipe.dynamic_range_dB = 20.0;
    const GreyScale scale = grey_scale_of(image.recipe);
    EXPECT_EQ(scale.white_dB, -10.0);
    EXPECT_EQ(scale.black_dB(), -30.0);
    const std::filesystem::path file = temporary("picture_reference.png");
    draw_picture(image, file);
    const ReadBack read = read_png(file);
    // The field at -20 dB lies in the middle of the scale and fills most of the picture.
    const auto middle = std::ranges::count(read.pixels, grey(128)) + std::ranges::count(read.pixels, grey(127));
    EXPECT_GT(middle, static_cast<std::ptrdiff_t>(read.pixels.size() / 3));
}

TEST(Picture, TruthIsMarkedOnlyWhenAsked) {
    Image image = point_image(0.0, 30.0);
    image.recording.truth.points.push_back({{0.0, 0.0, 30.0 * mm}, 1.0 * mm});
    TrueRegion cyst;
    cyst.shape = RegionShape::sphere;
    cyst.center_m = {8.0 * mm, 3.0 * mm, 45.0 * mm};  // its cross-section at y = 0 has a radius of 4 mm
    cyst.half_size_m = {5.0 * mm, 5.0 * mm, 5.0 * mm};
    image.recording.truth.regions.push_back(cyst);
    cyst.center_m.y() = 6.0 * mm;  // misses the image plane
    cyst.center_m.x() = -8.0 * mm;
    image.recording.truth.regions.push_back(cyst);

    const PageContent content = content_for(image);
    const double peak = peak_amplitude(image.envelope);
    const Canvas plain = compose({&image, 1}, content, {&peak, 1}, {}, false);
    const Canvas marked = compose({&image, 1}, content, {&peak, 1}, {}, true);
    const PageLayout layout = lay_out(content, {}, load_fonts());
    EXPECT_TRUE(std::ranges::none_of(plain.pixels(), [](Colour c) { return c != grey(c.red); }));
    const auto at = [&](double x_mm, double z_mm) {
        const Rect place = layout.images.front();
        return marked.at(place.x + static_cast<int>((x_mm + 19.0) * mm * layout.pixels_per_m),
                         place.y + static_cast<int>((z_mm - 2.0) * mm * layout.pixels_per_m));
    };
    EXPECT_NE(at(4.0, 45.0), grey(170));
    EXPECT_NE(at(12.0, 45.0), grey(170));
    EXPECT_EQ(at(3.0, 45.0), grey(170));
    EXPECT_EQ(at(-13.0, 45.0), grey(170));
    EXPECT_EQ(at(-12.0, 45.0), grey(170));
}

TEST(Picture, InASectorPointsAndMarksStandWhereTheyAre) {
    // Lines along the radii of a curved face: the panel reaches above z = 0 and beyond the arc, for its scale of
    // degrees.
    LineGrid grid = parallel_lines(161, 1.0 * mm, 80.0 * mm, 0.03 * mm);
    for (std::size_t i = 0; i < grid.origin_m.size(); ++i) {
        const double angle = 0.6 * (static_cast<double>(i) / 80.0 - 1.0);
        grid.direction[i] = {std::sin(angle), 0.0, std::cos(angle)};
        grid.origin_m[i] = 40.0 * mm * (grid.direction[i] - Vec3::UnitZ());
    }
    const Vec3 place{25.0 * mm, 0.0, 50.0 * mm};
    Image image =
        image_of(grid, [&](double x, double z) { return spot(x - place.x(), z - place.z(), 2.0 * mm, 1.0 * mm); });
    image.recording.truth.points.push_back({place, 1.0 * mm});
    PageContent content = content_for(image);
    content.panels.front().fan = fan_edge(image.grid);
    const double peak = peak_amplitude(image.envelope);
    const PageLayout layout = lay_out(content, {}, load_fonts());
    const Extent extent = layout.extents.front();
    EXPECT_LT(extent.min_z_m, 0.0);
    EXPECT_GT(extent.max_z_m, 81.0 * mm);
    EXPECT_GE(layout.angle_labels.size(), 3U);
    const Canvas canvas = compose({&image, 1}, content, {&peak, 1}, {}, true);

    const auto centre = [&](auto weight) {
        Position sum;
        double total = 0.0;
        const Rect panel = layout.images.front();
        for (int y = panel.y; y < panel.bottom(); ++y) {
            for (int x = panel.x; x < panel.right(); ++x) {
                const double w = weight(canvas.at(x, y));
                total += w;
                sum.x += w * (x + 0.5 - panel.x);
                sum.y += w * (y + 0.5 - panel.y);
            }
        }
        return Position{extent.min_x_m + sum.x / total / layout.pixels_per_m,
                        extent.min_z_m + sum.y / total / layout.pixels_per_m};
    };
    const Position ring = centre([](Colour c) { return std::max(0.0, 1.0 * c.red - c.blue); });
    EXPECT_NEAR(ring.x, place.x(), 0.02 * mm);
    EXPECT_NEAR(ring.y, place.z(), 0.02 * mm);
    const Position bright = centre([](Colour c) { return c == grey(c.red) && c.red > 240 ? 1.0 : 0.0; });
    EXPECT_NEAR(bright.x, place.x(), 0.02 * mm);
    EXPECT_NEAR(bright.y, place.z(), 0.02 * mm);
}

TEST(Picture, WhatCannotBeDrawnLeavesNothing) {
    Image image = point_image(0.0, 30.0);
    image.envelope[100] = std::nanf("");
    const std::filesystem::path file = temporary("never.png");
    EXPECT_THROW(draw_picture(image, file), InputError);
    EXPECT_FALSE(std::filesystem::exists(file));
}

TEST(Sheet, PanelsOfNearlyEqualDepthsStandAtOneHeight) {
    const auto flat = [](double, double) { return 1.0; };
    const auto deep = [&](double max_mm) {
        return image_of(parallel_lines(64, 38.0 * mm, max_mm * mm, 0.1 * mm), flat);
    };
    const std::vector<Image> alike{deep(82.0), deep(81.4)};
    for (const Extent& extent : panel_extents(alike)) {
        EXPECT_NEAR(extent.min_z_m, 2.0 * mm, 1e-9);
        EXPECT_NEAR(extent.max_z_m, scanned_extent(alike[1].grid).max_z_m, 1e-9);
    }
    const std::vector<Image> unlike{deep(82.0), deep(79.0)};
    EXPECT_NEAR(panel_extents(unlike)[0].max_z_m, scanned_extent(unlike[0].grid).max_z_m, 1e-9);
}

TEST(Picture, ANarrowImageGetsAMarginAndStaysInItsMiddle) {
    const Image image =
        image_of(parallel_lines(16, 4.0 * mm, 102.0 * mm, 0.1 * mm), [](double, double) { return 1.0; });
    PageContent content = content_for(image);
    content.panels.front().extent = panel_extents({&image, 1}).front();
    EXPECT_NEAR(content.panels.front().extent.width_m(), 0.14 * content.panels.front().extent.height_m(), 1e-9);
    const double peak = 1.0;
    const Canvas canvas = compose({&image, 1}, content, {&peak, 1}, {}, false);
    const Rect place = lay_out(content, {}, load_fonts()).images.front();
    const int y = place.y + place.height / 2;
    EXPECT_EQ(canvas.at(place.x + place.width / 2, y), grey(255));
    EXPECT_EQ(canvas.at(place.x + 5, y), outside_colour);
    EXPECT_EQ(canvas.at(place.right() - 5, y), outside_colour);
}

TEST(Sheet, TakesTwoToSixImages) {
    std::vector<Image> images(7, point_image(0.0, 30.0));
    const std::filesystem::path file = temporary("panels.png");
    EXPECT_THROW(draw_panels(std::span(images).first(1), file), InputError);
    EXPECT_THROW(draw_panels(images, file), InputError);
    EXPECT_FALSE(std::filesystem::exists(file));
    PanelsOptions options;
    options.limits = small_page();
    draw_panels(std::span(images).first(3), file, options);
    const std::vector<char> bytes = bytes_of(file);
    draw_panels(std::span(images).first(3), file, options);
    EXPECT_EQ(bytes, bytes_of(file));
    EXPECT_GT(read_png(file).width, 1000);
}

TEST(Sheet, CommonPeakShowsThatOneImageIsFainter) {
    std::vector<Image> images(2, point_image(0.0, 30.0));
    for (float& value : images[1].envelope) {
        value *= 0.1F;
    }
    const auto share_of = [&](PanelReference reference, std::uint8_t level) {
        const std::filesystem::path file = temporary("sheet_reference.png");
        PanelsOptions options;
        options.reference = reference;
        options.limits = small_page();
        draw_panels(images, file, options);
        const ReadBack read = read_png(file);
        return static_cast<double>(std::ranges::count(read.pixels, grey(level))) /
               static_cast<double>(read.pixels.size());
    };
    EXPECT_GT(share_of(PanelReference::own_peak, 170), 0.15);  // both fields at -20 dB
    EXPECT_LT(share_of(PanelReference::own_peak, 85), 0.01);
    EXPECT_GT(share_of(PanelReference::common_peak, 170), 0.08);
    EXPECT_GT(share_of(PanelReference::common_peak, 85), 0.08);  // the fainter one at -40 dB
}

TEST(Sheet, OneScaleCoversEveryRecipe) {
    std::vector<Image> images(2, point_image(0.0, 30.0));
    images[1].recipe.dynamic_range_dB = 80.0;
    const std::filesystem::path file = temporary("sheet_scale.png");
    PanelsOptions options;
    options.limits = small_page();
    draw_panels(images, file, options);
    const ReadBack read = read_png(file);
    // -20 dB on a scale of 80 dB is three quarters of the way up, in both panels, each a tenth of this small page.
    EXPECT_GT(std::ranges::count(read.pixels, grey(191)), static_cast<std::ptrdiff_t>(read.pixels.size() * 3 / 20));
}

TEST(Description, SaysWhatTheImageIs) {
    Image image = point_image(0.0, 30.0);
    image.recording.probe.name = "linear-5";
    image.recording.probe.center_Hz = 5e6;
    image.recording.probe.elements.resize(192);
    image.recording.events.resize(2);
    for (TransmitEvent& event : image.recording.events) {
        event.focus_m = {0.0, 0.0, 60.0 * mm};
    }
    image.recording.events[1].line = 1;
    EXPECT_EQ(describe_recording(image.recording),
              "Probe linear-5, 192\u00a0elements, 5\u00a0MHz; 2 focused lines, transmit focus 60\u00a0mm");
    image.recording.scan_depth_m = 150.0 * mm;
    EXPECT_TRUE(
        describe_recording(image.recording).ends_with("; frame rate at most 2567\u00a0Hz (2 lines, 150\u00a0mm)"))
        << describe_recording(image.recording);
    image.recipe.aperture = ApertureMode::growing;
    image.recipe.f_number = 2.0;
    image.recipe.window.kind = WindowKind::hann;
    image.sound_speed_m_s = 1540.0;
    EXPECT_EQ(describe_recipe(image), "dynamic receive focus; growing aperture, F/2; Hann window; 1540\u00a0m/s");
    image.recipe.window.kind = WindowKind::dolph_chebyshev;
    EXPECT_NE(describe_recipe(image).find("; Dolph-Chebyshev window"), std::string::npos);
    image.recipe.window.kind = WindowKind::triangle;
    EXPECT_NE(describe_recipe(image).find("; triangle window"), std::string::npos);
    image.recipe.high_pass_Hz = 1.25e6;
    EXPECT_NE(describe_recipe(image).find("; triangle window; high-pass at 1.25\u00a0MHz; 1540"), std::string::npos);
    image.recipe.high_pass_Hz = 0.0;
    EXPECT_NE(describe_recipe(image).find("; triangle window; no high-pass; 1540"), std::string::npos);
}

TEST(Description, OnlyWhatWasSimulatedIsCalledSimulated) {
    Image image = point_image(0.0, 30.0);
    EXPECT_TRUE(is_simulated(image));
    EXPECT_EQ(caution(true),
              "Simulated, for teaching and research only; not for diagnosis or for setting acoustic output.");
    image.recording.source.phantom.clear();  // as of acquired data
    EXPECT_FALSE(is_simulated(image));
    EXPECT_EQ(caution(false), "For teaching and research only; not for diagnosis or for setting acoustic output.");
}

}  // namespace
}  // namespace echoloom
