#include "recon/image/page_layout.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <set>

#include "recon/image/scan_conversion.h"

namespace echoloom {
namespace {

constexpr double mm = 1e-3;
const std::string long_title =
    "Dynamic receive focus with an aperture that grows with depth at F/2 up to all 192 elements, Dolph-Chebyshev "
    "apodization of 40 dB and an assumed sound speed of 1540 m/s";

PageContent content_of(int panels, double width_mm, double height_mm, const std::string& title) {
    PageContent content;
    for (int i = 0; i < panels; ++i) {
        content.panels.push_back({{-0.5 * width_mm * mm, 0.5 * width_mm * mm, 2.0 * mm, (2.0 + height_mm) * mm},
                                  title,
                                  panels > 1 ? std::string(1, static_cast<char>('A' + i)) : ""});
    }
    content.caption = "Probe linear-5, 192 elements, 5 MHz; 192 focused lines, transmit focus 60 mm; a long caption.";
    content.caution = "Simulated, for teaching and research only; not for diagnosis or for setting acoustic output.";
    content.scale_name = "dB relative to each image\u2019s own peak";
    return content;
}

/// Every rectangle that must keep clear of the others.
std::vector<Rect> everything(const PageLayout& page) {
    std::vector<Rect> all = page.images;
    all.push_back(page.bar);
    for (const PlacedText& text : page.texts) {
        all.push_back(text.box);
    }
    for (const PlacedText& badge : page.badges) {
        all.push_back(badge.box);
    }
    return all;
}

void expect_sound(const PageLayout& page, const PageLimits& limits, const Fonts& fonts) {
    const std::vector<Rect> all = everything(page);
    const Rect whole{0, 0, page.width, page.height};
    for (std::size_t i = 0; i < all.size(); ++i) {
        EXPECT_TRUE(whole.contains(all[i])) << i << ": " << all[i].x << " " << all[i].y;
        for (std::size_t k = i + 1; k < all.size(); ++k) {
            EXPECT_FALSE(all[i].overlaps(all[k])) << i << " and " << k << " at " << all[i].x << " " << all[i].y;
        }
    }
    for (const PlacedText& text : page.texts) {
        const Font& font = text.bold ? fonts.bold : fonts.regular;
        for (const std::string& line : text.lines) {
            EXPECT_LE(font.text_width(line, text.size), text.upwards ? text.box.height : text.box.width) << line;
        }
        EXPECT_GE(text.size, limits.least_text_size);
        // Legible at the back: 20 px where the page is shown 1600 px wide.
        EXPECT_GE(text.size * 1600.0 / std::max(page.width, 1600), 20.0);
    }
    EXPECT_LE(page.width, limits.most_width);
    EXPECT_LE(page.height, limits.most_height);
}

TEST(PageLayout, NothingOverlapsOnAnyPage) {
    const Fonts fonts = load_fonts();
    const PageLimits limits;
    for (const auto& [width, height] : {std::pair{60.0, 82.0}, {38.0, 118.0}, {60.0, 30.0}, {8.0, 8.0}, {4.0, 100.0}}) {
        for (const std::string& title : {std::string("Short"), long_title, std::string()}) {
            for (int panels = 1; panels <= 6; ++panels) {
                SCOPED_TRACE(std::to_string(panels) + " panels of " + std::to_string(width) + " x " +
                             std::to_string(height) + ", " + title);
                PageContent content = content_of(panels, width, height, title);
                content.heading = panels % 2 == 0 ? "A heading over all of it" : "";
                expect_sound(lay_out(content, limits, fonts), limits, fonts);
            }
        }
    }
}

TEST(PageLayout, PanelsOfUnequalSizeShareOneScale) {
    const Fonts fonts = load_fonts();
    PageContent content = content_of(3, 60.0, 82.0, "Title");
    content.panels[1].extent = {-10.0 * mm, 50.0 * mm, 0.0, 40.0 * mm};
    content.panels[2].extent = {-5.0 * mm, 5.0 * mm, 20.0 * mm, 60.0 * mm};
    const PageLayout page = lay_out(content, {}, fonts);
    expect_sound(page, {}, fonts);
    for (std::size_t i = 0; i < 3; ++i) {
        const Extent& extent = content.panels[i].extent;
        EXPECT_NEAR(page.images[i].width, extent.width_m() * page.pixels_per_m, 0.5001);
        EXPECT_NEAR(page.images[i].height, extent.height_m() * page.pixels_per_m, 0.5001);
    }
    // Depths differ, so each panel names its own.
    const auto named = std::ranges::count_if(
        page.texts, [](const PlacedText& text) { return text.upwards && text.lines.front() == "depth (mm)"; });
    EXPECT_EQ(named, 3);
}

TEST(PageLayout, EqualDepthsAreLabelledOnceARow) {
    const PageLayout page = lay_out(content_of(4, 60.0, 82.0, "Title"), {}, load_fonts());
    const auto count = [&](const std::string& words) {
        return std::ranges::count_if(page.texts, [&](const PlacedText& text) { return text.lines.front() == words; });
    };
    EXPECT_EQ(count("depth (mm)"), 1);
    EXPECT_EQ(count("lateral (mm)"), 4);
    EXPECT_EQ(count("50"), 1);            // every 10 mm of depth
    EXPECT_EQ(count("\u221220"), 4 + 1);  // on every lateral axis and on the grey bar
}

TEST(PageLayout, FourStandInARowAndSixInTwo) {
    const auto rows = [](const PageLayout& page) {
        std::set<int> tops;
        for (const Rect& image : page.images) {
            tops.insert(image.y);
        }
        return tops.size();
    };
    const Fonts fonts = load_fonts();
    EXPECT_EQ(rows(lay_out(content_of(2, 60.0, 82.0, "Title"), {}, fonts)), 1U);
    EXPECT_EQ(rows(lay_out(content_of(4, 60.0, 82.0, "Title"), {}, fonts)), 1U);
    EXPECT_EQ(rows(lay_out(content_of(6, 60.0, 82.0, "Title"), {}, fonts)), 2U);
    EXPECT_GT(rows(lay_out(content_of(4, 120.0, 40.0, "Title"), {}, fonts)), 1U);  // wide panels stack
}

TEST(PageLayout, LabelledTicksStandAtTheirMillimetres) {
    const PageContent content = content_of(1, 60.0, 82.0, "Title");
    const PageLayout page = lay_out(content, {}, load_fonts());
    const Rect image = page.images.front();
    int found = 0;
    for (const PlacedText& text : page.texts) {
        if (text.box.right() < image.x && !text.upwards) {  // a depth label
            const double depth_mm = std::stod(text.lines.front());
            const double y = image.y + (depth_mm - 2.0) * mm * page.pixels_per_m;
            const auto at_depth = [&](const Rect& tick) {
                return tick.right() == image.x && std::abs(tick.y + 0.5 * tick.height - y) <= 1.0;
            };
            EXPECT_TRUE(std::ranges::any_of(page.ticks, at_depth)) << depth_mm;
            EXPECT_NEAR(text.box.y + 0.5 * text.box.height, y, 1.5);
            ++found;
        }
    }
    EXPECT_EQ(found, 8);  // 10, 20 ... 80
}

TEST(PageLayout, EveryAxisHasTwoLabelsAndTheGreyBarBothEnds) {
    const Fonts fonts = load_fonts();
    const PageLimits limits;
    for (const auto& [width, height] : {std::pair{8.0, 30.0}, {15.0, 100.0}, {5.0, 5.0}, {60.0, 9.0}, {12.0, 80.0}}) {
        for (int panels = 1; panels <= 4; ++panels) {
            SCOPED_TRACE(std::to_string(panels) + " panels of " + std::to_string(width) + " x " +
                         std::to_string(height));
            PageContent content = content_of(panels, width, height, "Title");
            content.scale = {3.0, 45.0};
            const PageLayout page = lay_out(content, limits, fonts);
            expect_sound(page, limits, fonts);
            const Rect& image = page.images.front();
            int lateral = 0;
            int depth = 0;
            std::set<std::string> bar;
            for (const PlacedText& text : page.texts) {
                const bool number = text.lines.front().find_first_of("0123456789") != std::string::npos;
                const int x = text.box.x + text.box.width / 2;
                const int y = text.box.y + text.box.height / 2;
                if (!number || text.upwards) continue;
                if (y > image.bottom() && text.box.y < image.bottom() + 60 && x >= image.x - 2 &&
                    x <= image.right() + 2)
                    ++lateral;
                if (text.box.right() < image.x && y >= image.y - 2 && y <= image.bottom() + 2) ++depth;
                if (text.box.y > page.bar.bottom() && text.box.y < page.bar.bottom() + 60)
                    bar.insert(text.lines.front());
            }
            EXPECT_GE(lateral, 2);
            EXPECT_GE(depth, 2);
            EXPECT_TRUE(bar.contains("\u221242"));
            EXPECT_TRUE(bar.contains("3"));
        }
    }
}

}  // namespace
}  // namespace echoloom
