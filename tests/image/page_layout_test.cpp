#include "recon/image/page_layout.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <numbers>
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
    content.scale_name = "envelope (dB re each image\u2019s own peak)";
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
        EXPECT_GE(text.size, limits.min_text_size);
        // Legible at the back: 20 px where the page is shown 1600 px wide.
        EXPECT_GE(text.size * 1600.0 / std::max(page.width, 1600), 20.0);
    }
    EXPECT_LE(page.width, limits.max_width);
    EXPECT_LE(page.height, limits.max_height);
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

TEST(PageLayout, PanelsOfARowStandAtTheirDepths) {
    const Fonts fonts = load_fonts();
    PageContent content = content_of(2, 60.0, 82.0, "Title");
    content.panels[1].extent.min_z_m = -6.0 * mm;  // the raised ends of a curved face
    const PageLayout page = lay_out(content, {}, fonts);
    expect_sound(page, {}, fonts);
    EXPECT_NEAR(page.images[0].y - page.images[1].y, 8.0 * mm * page.pixels_per_m, 0.51);
    content.panels[1].extent.min_z_m = 60.0 * mm;  // a part from far below would leave too much of the page empty
    const PageLayout parts = lay_out(content, {}, fonts);
    EXPECT_EQ(parts.images[0].y, parts.images[1].y);
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

/// A sector from one point, to a depth.
PageContent sector_of(int panels, double half_deg, double depth_mm) {
    PageContent content = content_of(panels, 10.0, 10.0, "Title");
    const double half = half_deg * std::numbers::pi / 180.0;
    FanEdge fan;
    for (int i = 0; i <= 100; ++i) {
        const double angle = half * (i / 50.0 - 1.0);
        fan.push_back({angle, depth_mm * mm * std::sin(angle), depth_mm * mm * std::cos(angle)});
    }
    for (PanelContent& panel : content.panels) {
        panel.extent = {fan.front().x_m, fan.back().x_m, 0.0, depth_mm * mm};
        panel.fan = fan;
    }
    return content;
}

TEST(PageLayout, AngleScaleStaysInItsPanelAndClearOfTheFan) {
    const Fonts fonts = load_fonts();
    for (const auto& [half_deg, depth_mm] :
         {std::pair{45.0, 100.0}, {80.0, 60.0}, {12.0, 80.0}, {29.0, 20.0}, {3.0, 50.0}}) {
        for (int panels = 1; panels <= 6; ++panels) {
            SCOPED_TRACE(std::to_string(panels) + " panels of +-" + std::to_string(half_deg));
            const PageContent content = sector_of(panels, half_deg, depth_mm);
            const PageLimits limits;
            const PageLayout page = lay_out(content, limits, fonts);
            expect_sound(page, limits, fonts);
            if (half_deg > 20.0) {  // a narrow fan has room for them only where it is large
                EXPECT_GE(page.angle_labels.size(), static_cast<std::size_t>(2 * panels));
            }
            for (std::size_t i = 0; i < page.angle_labels.size(); ++i) {
                const Rect& box = page.angle_labels[i].box;
                EXPECT_TRUE(std::ranges::any_of(page.images, [&](const Rect& image) { return image.contains(box); }));
                for (std::size_t k = 0; k < i; ++k) {
                    EXPECT_FALSE(box.overlaps(page.angle_labels[k].box)) << i << " " << k;
                }
            }
            for (const auto& [from, to] : page.angle_ticks) {
                EXPECT_TRUE(std::ranges::any_of(page.images, [&](const Rect& image) {
                    return to.x > image.x && to.x < image.right() && to.y > image.y && to.y < image.bottom();
                }));
            }
            // In the first panel: each label beyond the arc, along the line of its own angle.
            const Rect image = page.images.front();
            const std::size_t in_one = page.angle_labels.size() / static_cast<std::size_t>(panels);
            for (std::size_t i = 0; i < in_one; ++i) {
                const PlacedText& label = page.angle_labels[i];
                std::string digits = label.lines.front();
                const bool negative = digits.starts_with("\u2212");
                digits = negative ? digits.substr(3) : digits;
                const double angle = (negative ? -1.0 : 1.0) * std::stod(digits);
                const double x =
                    (label.box.x + 0.5 * label.box.width - image.x) / page.pixels_per_m + page.extents.front().min_x_m;
                const double z =
                    (label.box.y + 0.5 * label.box.height - image.y) / page.pixels_per_m + page.extents.front().min_z_m;
                EXPECT_NEAR(std::atan2(x, z) * 180.0 / std::numbers::pi, angle, 0.2);
                EXPECT_GT((std::hypot(x, z) - depth_mm * mm) * page.pixels_per_m, 0.8 * limits.text_size);
            }
        }
    }
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
