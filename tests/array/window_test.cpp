#include "sim/array/window.h"

#include <gtest/gtest.h>

#include <functional>
#include <stdexcept>

#include "sim/array/window_settings.h"
#include "tests/array/beam_pattern.h"
#include "tests/base/message.h"
#include "tests/published/windows.h"

namespace echoloom {
namespace {

using published::WindowRow;
using Convention = std::vector<double> (*)(const Window&, int);

std::string words(const Window& window) {
    return std::string(window_name(window.kind)) + ' ' + std::to_string(window.parameter);
}

// The tables of tests/published/windows.h, recomputed by recompute_windows.py there. Widths to 1e-3 relative and side
// lobes to 0.05 dB; gain and bandwidth to the four decimals of the table.
void expect_table(const std::vector<WindowRow>& rows, Convention weights) {
    constexpr std::array<int, 3> counts = {32, 64, 128};
    for (const WindowRow& row : rows) {
        for (std::size_t i = 0; i < counts.size(); ++i) {
            SCOPED_TRACE(words(row.window) + ", N = " + std::to_string(counts[i]));
            const BeamPattern beam(weights(row.window, counts[i]));
            EXPECT_NEAR(beam.side_lobe_dB(), row.side_lobe_dB[i], 0.05);
            EXPECT_NEAR(beam.width(0.5), row.half_width[i], 1e-3 * row.half_width[i]);
        }
        SCOPED_TRACE(words(row.window));
        const BeamPattern beam(weights(row.window, 64));
        EXPECT_NEAR(beam.width(std::numbers::sqrt2 / 2.0), row.root_half_width, 1e-3 * row.root_half_width);
        EXPECT_NEAR(beam.mean(), row.coherent_gain, 1e-4);
        EXPECT_NEAR(beam.noise_bandwidth(), row.noise_bandwidth, 1e-4);
    }
}

TEST(Window, SymmetricBeamsAreThePublishedOnes) {
    expect_table(published::symmetric_windows, window_symmetric);
}

TEST(Window, CenteredBeamsAreThePublishedOnes) {
    expect_table(published::centered_windows, window_at_centers);
}

// Harris (Table I, rows from memory) prints whole decibels and two decimals, some of them rounded up; a continuous
// window is near at N = 1024. The highest side lobes of all these windows lie within the first dozen bins.
TEST(Window, AgreesWithHarrisAsPrinted) {
    for (const published::HarrisRow& row : published::harris_table_1) {
        SCOPED_TRACE(words(row.window));
        const BeamPattern beam(window_at_centers(row.window, 1024));
        EXPECT_NEAR(beam.side_lobe_dB(12.0), row.side_lobe_dB, 0.65);
        EXPECT_NEAR(beam.mean(), row.coherent_gain, 0.006);
        EXPECT_NEAR(beam.noise_bandwidth(), row.noise_bandwidth, 0.006);
        EXPECT_NEAR(beam.width(std::numbers::sqrt2 / 2.0), row.width_3dB, 0.013);
        EXPECT_NEAR(beam.width(0.5), row.width_6dB, 0.013);
    }
}

// Of the continuous windows: Hamming 1.81522 bins wide and side lobes of 0.00734934 of the peak, triangle 0.047190 (E.
// W. Weisstein, MathWorld, "Hamming Function" and "Bartlett Function"; recomputed by
// tests/published/recompute_windows.py).
TEST(Window, ReachesTheContinuousLimit) {
    const BeamPattern hamming(window_at_centers({WindowKind::hamming, 0.0}, 2048));
    EXPECT_NEAR(hamming.width(0.5), 1.81522, 1e-5);
    EXPECT_NEAR(hamming.side_lobe_dB(12.0), 20.0 * std::log10(0.00734934), 1e-3);
    const BeamPattern triangle(window_at_centers({WindowKind::triangle, 0.0}, 2048));
    EXPECT_NEAR(triangle.side_lobe_dB(12.0), 20.0 * std::log10(0.047190), 1e-3);
}

TEST(Window, IsSymmetricPositiveAndZeroOutside) {
    for (const std::string_view name : window_names()) {
        SCOPED_TRACE(name);
        const WindowKind kind = window_kind(name);
        EXPECT_EQ(window_name(kind), name);
        const Window window{kind, window_default_parameter(kind)};
        EXPECT_EQ(window_value(window, 0.5001, 16), 0.0);
        EXPECT_EQ(window_value(window, -0.5001, 16), 0.0);
        EXPECT_NEAR(window_value(window, 0.0, 17), 1.0, 1e-15);
        for (double x = 0.0; x <= 0.5; x += 0.01) {
            EXPECT_NEAR(window_value(window, x, 16), window_value(window, -x, 16), 1e-15);
            EXPECT_GE(window_value(window, x, 16), -1e-15);
        }
        const std::vector<double> weights = window_at_centers(window, 16);
        for (int n = 0; n < 16; ++n) {
            EXPECT_NEAR(window_value(window, (n - 7.5) / 16.0, 16), weights[static_cast<std::size_t>(n)], 1e-14);
        }
    }
}

TEST(Window, OfOneElementIsOne) {
    for (const std::string_view name : window_names()) {
        const Window window{window_kind(name), window_default_parameter(window_kind(name))};
        EXPECT_EQ(window_at_centers(window, 1), std::vector<double>{1.0}) << name;
        EXPECT_EQ(window_symmetric(window, 1), std::vector<double>{1.0}) << name;
    }
}

TEST(Window, RefusesUnknownNamesAndParameters) {
    EXPECT_THROW(window_kind("han"), std::invalid_argument);
    const auto error = [](const std::string& text) {
        return message_of([&] {
            auto settings = Settings::from_text(text, "scan.toml");
            read_window(settings, "window", "window_parameter");
        });
    };
    EXPECT_EQ(error("window = 'han'\n"),
              "2 scan.toml:1: window: is the text \"han\"; give one of \"rectangular\", \"triangle\", \"cosine\", "
              "\"hann\", \"hamming\", \"blackman\", \"tukey\", \"gaussian\", \"kaiser\", \"dolph_chebyshev\"; did you "
              "mean 'hann'?");
    EXPECT_EQ(error("window = 'tukey'\nwindow_parameter = 1.5\n"),
              "2 scan.toml:2: window_parameter: is 1.5; give a number from 0 to 1");
    EXPECT_EQ(error("window = 'hann'\nwindow_parameter = 1.5\n"),
              "2 scan.toml:2: window_parameter: the window \"hann\" has no parameter; take this key out");
    EXPECT_EQ(error("window = 'kaiser'\n"), "no error");
}

}  // namespace
}  // namespace echoloom
