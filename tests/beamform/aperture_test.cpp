/// The aperture rule: windows at the element centres, growth without steps, the array's end.

#include "recon/beamform/aperture.h"

#include <gtest/gtest.h>

#include <cmath>
#include <numeric>

#include "tests/base/message.h"
#include "tests/beamform/synthetic.h"

namespace echoloom {
namespace {

constexpr double pitch = 0.3e-3;

RecordingInfo info_of(int elements) {
    return testing::full_matrix_recording(testing::flat_probe(elements, pitch, 5e6, 0.6), 8).info;
}

/// Distances along the array from an origin that lies between two elements of a long array.
std::vector<double> offsets_around(double origin_in_pitches, int count) {
    std::vector<double> offsets;
    for (int i = 0; i < count; ++i) {
        offsets.push_back((i - 0.5 * (count - 1) - origin_in_pitches) * pitch);
    }
    return offsets;
}

std::vector<float> weights_of(const Aperture& aperture, double width, const std::vector<double>& offsets,
                              bool normalize = true) {
    std::vector<float> weights(offsets.size());
    aperture.weigh(width, offsets, normalize, weights);
    return weights;
}

/// Whole elements carry the window's values at the element centres, the convention of the second table of
/// tests/published/windows.h (after F. J. Harris, Proc. IEEE 66(1), 51-83, 1978, rows from memory).
TEST(Aperture, WholeElementsCarryTheWindowAtTheirCentres) {
    for (const std::string_view name : window_names()) {
        SCOPED_TRACE(name);
        Recipe recipe;
        recipe.window.kind = window_kind(name);
        recipe.window.parameter = window_default_parameter(recipe.window.kind);
        const Aperture aperture(recipe, info_of(64));
        const auto weights = weights_of(aperture, aperture.width_m(0.03), offsets_around(0.0, 64), false);
        const auto expected = window_at_centers(recipe.window, 64);
        for (std::size_t i = 0; i < 64; ++i) {
            EXPECT_NEAR(weights[i], expected[i], 2e-6) << i;
        }
    }
}

TEST(Aperture, WeightsFromAFileOfAsManyAreTakenAsTheyAre) {
    Recipe recipe;
    for (int i = 0; i < 16; ++i) {
        recipe.custom_weights.push_back(1.0 + 0.1 * i * i);
    }
    const Aperture aperture(recipe, info_of(16));
    const auto weights = weights_of(aperture, aperture.width_m(0.0), offsets_around(0.0, 16), false);
    for (std::size_t i = 0; i < 16; ++i) {
        EXPECT_NEAR(weights[i], recipe.custom_weights[i], 1e-5);
    }
}

TEST(Aperture, GrowsAsDepthOverFNumberBetweenItsLimits) {
    Recipe recipe;
    recipe.aperture = ApertureMode::growing;
    recipe.f_number = 2.0;
    recipe.min_elements = 4;
    recipe.max_elements = 48;
    const RecordingInfo info = info_of(64);
    const Aperture aperture(recipe, info);
    for (const double depth : {0.0, 1e-3, 2.4e-3, 10e-3, 20e-3, 28.8e-3, 60e-3}) {
        const double expected = std::min(48 * pitch, std::max(4 * pitch, depth / 2.0));
        EXPECT_DOUBLE_EQ(aperture.width_m(depth), expected);
        EXPECT_DOUBLE_EQ(receive_aperture_m(recipe, info, depth), expected);
    }
}

TEST(Aperture, EveryDepthSumsToOneAndNoElementEntersWithAStep) {
    for (const auto kind : {WindowKind::rectangular, WindowKind::hann, WindowKind::hamming, WindowKind::gaussian,
                            WindowKind::dolph_chebyshev}) {
        SCOPED_TRACE(window_name(kind));
        Recipe recipe;
        recipe.aperture = ApertureMode::growing;
        recipe.f_number = 2.0;
        recipe.window = {kind, window_default_parameter(kind)};
        const Aperture aperture(recipe, info_of(64));
        for (const double origin : {0.0, 0.5, 0.13}) {
            const auto offsets = offsets_around(origin, 65);
            std::vector<float> before;
            // From the least aperture of one element on, in steps that widen it by a hundredth of an element.
            for (double width = pitch; width < 40.0 * pitch; width += 0.01 * pitch) {
                const auto weights = weights_of(aperture, width, offsets);
                EXPECT_NEAR(std::accumulate(weights.begin(), weights.end(), 0.0F), 1.0F, 1e-5F);
                for (std::size_t i = 0; i < before.size(); ++i) {
                    ASSERT_LT(std::abs(weights[i] - before[i]), 0.03F) << width / pitch << ' ' << i;
                }
                before = weights;
            }
        }
    }
}

TEST(Aperture, AtTheArraysEndNormalisesOverWhatRemains) {
    Recipe recipe;
    recipe.max_elements = 32;
    const Aperture aperture(recipe, info_of(64));
    // Centred on the last of 64 elements: 16 whole elements to the left of it, itself, nothing to the right.
    std::vector<double> offsets;
    for (int i = 0; i < 64; ++i) {
        offsets.push_back((i - 63) * pitch);
    }
    const auto weights = weights_of(aperture, 32 * pitch, offsets);
    EXPECT_NEAR(std::accumulate(weights.begin(), weights.end(), 0.0F), 1.0F, 1e-6F);
    EXPECT_EQ(weights[46], 0.0F);
    EXPECT_NEAR(weights[47], 0.5 / 16.5, 1e-6);  // half of its pitch lies inside
    EXPECT_NEAR(weights[48], 1.0 / 16.5, 1e-6);
    EXPECT_NEAR(weights[63], 1.0 / 16.5, 1e-6);
}

TEST(Aperture, ADolphChebyshevWindowOfVeryManyElementsIsRefused) {
    Recipe recipe = read_recipe(Settings::from_text("[receive]\nwindow = \"dolph_chebyshev\"", "r.toml"));
    EXPECT_EQ(
        message_of([&] { Aperture(recipe, info_of(1025)); }),
        "2 r.toml:2: receive.window: dolph_chebyshev is made for apertures of at most 1024 elements, and this one "
        "has 1025: limit it by max_elements, or take another window, such as kaiser");
    recipe.max_elements = 1024;
    EXPECT_EQ(message_of([&] { Aperture(recipe, info_of(1025)); }), "no error");
}

TEST(Aperture, MoreElementsThanChannelsAreRefused) {
    Recipe recipe = read_recipe(Settings::from_text("[receive]\nmax_elements = 65", "r.toml"));
    EXPECT_EQ(message_of([&] { Aperture(recipe, info_of(64)); }),
              "2 r.toml:2: receive.max_elements: a constant aperture of 65 elements needs as many channels; this "
              "recording has 64: lower it to that or leave it out");
    recipe.aperture = ApertureMode::growing;
    recipe.f_number = 1.0;
    EXPECT_EQ(message_of([&] { Aperture(recipe, info_of(64)); }), "no error");
}

}  // namespace
}  // namespace echoloom
