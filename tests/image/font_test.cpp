#include "recon/image/font.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cstdlib>
#include <fstream>
#include <numeric>

#include "sim/base/error.h"
#include "tests/image/read_png.h"

namespace echoloom {
namespace {

/// Sets the variable for one test and takes it back.
class FontVariable {
  public:
    explicit FontVariable(const std::string& value) { setenv("ECHOLOOM_FONT", value.c_str(), 1); }
    ~FontVariable() { unsetenv("ECHOLOOM_FONT"); }
    FontVariable(const FontVariable&) = delete;
    FontVariable& operator=(const FontVariable&) = delete;
};

std::string message_of_loading() {
    try {
        load_fonts();
    } catch (const MachineError& error) {
        return error.what();
    }
    return "";
}

std::string joined(const FittedText& text) {
    std::string all;
    for (const std::string& line : text.lines) {
        all += (all.empty() ? "" : " ") + line;
    }
    return all;
}

std::size_t ink(const Mask& mask) {
    return std::accumulate(mask.coverage.begin(), mask.coverage.end(), std::size_t{0});
}

TEST(Font, WidthsAreThoseOfTheFont) {
    // DejaVu Sans has 2048 units to the em; its digits advance 1303 and its minus sign 1716 (its hmtx table, from
    // memory).
    const Font font = load_fonts().regular;
    EXPECT_NEAR(font.text_width("0", 2048.0), 1303.0, 0.5);
    EXPECT_NEAR(font.text_width("\u2212", 2048.0), 1716.0, 0.5);
    EXPECT_NEAR(font.text_width("0123456789", 20.48), 130.3, 0.01);
    EXPECT_EQ(font.text_width("", 20.0), 0.0);
}

TEST(Font, InkStaysInsideItsBox) {
    const Font font = load_fonts().bold;
    const Mask mask = font.draw("\u00c5gjpqy|", 30.0);
    EXPECT_EQ(mask.height, font.line_height(30.0));
    // A font drawn twice as large has four times the ink; what a box cut off would be missing from one of them.
    const double ratio = static_cast<double>(ink(font.draw("\u00c5gjpqy|", 60.0))) / static_cast<double>(ink(mask));
    EXPECT_NEAR(ratio, 4.0, 0.05);
}

TEST(Font, TextThatIsNotUtf8IsDrawnAsReplacement) {
    const Font font = load_fonts().regular;
    EXPECT_GT(ink(font.draw("\xff\xc3", 20.0)), 0U);
    EXPECT_EQ(font.text_width("\xff", 20.0), font.text_width("\ufffd", 20.0));
    EXPECT_EQ(ink(font.draw("\n\t ", 20.0)), 0U);
}

TEST(Font, MissingFontNamesThePackage) {
    const FontVariable variable("/nowhere/at/all.ttf");
    const std::string message = message_of_loading();
    EXPECT_NE(message.find("/nowhere/at/all.ttf"), std::string::npos) << message;
    EXPECT_NE(message.find("fonts-dejavu-core"), std::string::npos) << message;
}

TEST(Font, CutFontIsRefused) {
    const std::vector<char> whole = bytes_of("/usr/share/fonts/truetype/dejavu/DejaVuSans.ttf");
    ASSERT_GT(whole.size(), 1000U);
    const std::filesystem::path cut = temporary("cut_font.ttf");
    for (const std::size_t kept : {std::size_t{0}, std::size_t{5}, std::size_t{200}, whole.size() / 2}) {
        std::ofstream(cut, std::ios::binary).write(whole.data(), static_cast<std::streamsize>(kept));
        const FontVariable variable(cut);
        EXPECT_NE(message_of_loading().find("not a whole TrueType font"), std::string::npos) << kept;
    }
}

TEST(FitText, KeepsItsSizeWhereItFits) {
    const Font font = load_fonts().regular;
    const FittedText fitted = fit_text(font, "short title", 400.0, 30.0, 20.0, 2);
    EXPECT_EQ(fitted.lines, std::vector<std::string>{"short title"});
    EXPECT_EQ(fitted.size, 30.0);
}

TEST(FitText, WrapsThenShrinksThenCuts) {
    const Font font = load_fonts().regular;
    const std::string title = "Dynamic receive focus with an aperture that grows with depth and Hann apodization";
    const auto check = [&](double width, int max_lines) {
        const FittedText fitted = fit_text(font, title, width, 30.0, 20.0, max_lines);
        EXPECT_LE(static_cast<int>(fitted.lines.size()), max_lines);
        for (const std::string& line : fitted.lines) {
            EXPECT_LE(font.text_width(line, fitted.size), width);
        }
        return fitted;
    };
    const FittedText wrapped = check(800.0, 2);
    EXPECT_EQ(wrapped.size, 30.0);
    EXPECT_EQ(joined(wrapped), title);
    const FittedText shrunk = check(500.0, 2);
    EXPECT_LT(shrunk.size, 30.0);
    EXPECT_EQ(joined(shrunk), title);
    const FittedText cut = check(200.0, 2);
    EXPECT_EQ(cut.size, 20.0);
    EXPECT_TRUE(cut.lines.back().ends_with("\u2026"));
    EXPECT_TRUE(check(30.0, 1).lines.front().ends_with("\u2026"));
}

TEST(FitText, BalancedKeepsWordsAndEvensLines) {
    const Font font = load_fonts().regular;
    const FittedText fitted = fit_text(font, "Dynamic focus, aperture growing at F/2", 450.0, 30.0, 30.0, 3);
    const FittedText even = balanced(font, fitted);
    ASSERT_EQ(even.lines.size(), fitted.lines.size());
    EXPECT_EQ(joined(even), joined(fitted));
    EXPECT_LT(font.text_width(even.lines.front(), 30.0) - font.text_width(even.lines.back(), 30.0),
              font.text_width(fitted.lines.front(), 30.0) - font.text_width(fitted.lines.back(), 30.0));
}

}  // namespace
}  // namespace echoloom
