/// Recipes: every shipped one loads, reads back from its own writing, and every slip gets one line that says what would
/// be right.

#include "recon/beamform/recipe.h"

#include <gtest/gtest.h>

#include <set>

#include "sim/base/shipped.h"
#include "tests/base/message.h"
#include "tests/base/temporary_folder.h"

namespace echoloom {
namespace {

std::string error_of(const std::string& text) {
    return message_of([&] { read_recipe(Settings::from_text(text, "r.toml")); });
}

Recipe recipe_of(const std::string& text) {
    return read_recipe(Settings::from_text(text, "r.toml"));
}

TEST(Recipe, EveryShippedOneLoadsAndReadsBackFromItsOwnWriting) {
    const auto names = shipped_names(ShippedKind::recipe);
    EXPECT_GE(names.size(), 20U);
    std::set<std::string> titles;
    for (const std::string& name : names) {
        SCOPED_TRACE(name);
        const Recipe recipe = load_recipe(name);
        EXPECT_EQ(recipe.name, name);
        EXPECT_TRUE(titles.insert(recipe.title).second) << "a title must say what differs: " << recipe.title;
        const Recipe again = read_recipe(Settings::from_text(recipe_toml(recipe), name + ".toml"));
        EXPECT_EQ(recipe_toml(again), recipe_toml(recipe));
        EXPECT_EQ(again.name, recipe.name);
        EXPECT_EQ(again.focus_depths_m, recipe.focus_depths_m);
    }
}

TEST(Recipe, ShippedOnesCoverEveryWindow) {
    for (const std::string_view name : window_names()) {
        const Recipe recipe = load_recipe("window_" + std::string(name));
        EXPECT_EQ(window_name(recipe.window.kind), name);
    }
}

TEST(Recipe, AnEmptyFileIsTheDefault) {
    const Recipe recipe = recipe_of("");
    EXPECT_EQ(recipe.focus, FocusMode::dynamic);
    EXPECT_EQ(recipe.aperture, ApertureMode::constant);
    EXPECT_EQ(recipe.interpolation, Interpolation::upsampled);
    EXPECT_EQ(recipe.title, "r");
    EXPECT_TRUE(recipe.normalize_depth);
    EXPECT_FALSE(recipe.sound_speed_m_s);
    EXPECT_FALSE(recipe.high_pass_Hz);
}

TEST(Recipe, EveryKeyArrives) {
    const Recipe recipe = recipe_of(R"(
sound_speed_m_s = 1480
interpolation = "cubic"
high_pass_MHz = 0.7
keep_rf = true
[receive]
focus = "zones"
zone_depths_mm = [20, 40.1]
aperture = "growing"
f_number = 1.5
min_elements = 8
max_elements = 48
window = "kaiser"
window_parameter = 4
normalize = false
[transmit]
weights = "equal"
angle_window = "tukey"
angle_window_parameter = 0.3
[grid]
min_depth_mm = 5
depth_mm = 60
depth_step_mm = 0.1
x_mm = [-10, 12]
x_step_mm = 0.2
[picture]
title = "A \"quoted\" title"
attenuation_compensation_dB_cm_MHz = 0.5
dynamic_range_dB = 50
reference_dB = -6
)");
    EXPECT_EQ(recipe.sound_speed_m_s, 1480.0);
    EXPECT_EQ(recipe.interpolation, Interpolation::cubic);
    EXPECT_EQ(recipe.high_pass_Hz, 0.7 * 1e6);
    EXPECT_TRUE(recipe.keep_rf);
    EXPECT_EQ(recipe.focus_depths_m, (std::vector<double>{20 * 1e-3, 40.1 * 1e-3}));
    EXPECT_EQ(recipe.f_number, 1.5);
    EXPECT_EQ(recipe.min_elements, 8);
    EXPECT_EQ(recipe.max_elements, 48);
    EXPECT_EQ(recipe.window.kind, WindowKind::kaiser);
    EXPECT_EQ(recipe.window.parameter, 4.0);
    EXPECT_FALSE(recipe.normalize_depth);
    EXPECT_EQ(recipe.transmit_weights, TransmitWeights::equal);
    ASSERT_TRUE(recipe.angle_window);
    EXPECT_EQ(recipe.angle_window->parameter, 0.3);
    EXPECT_EQ(recipe.min_depth_m, 5 * 1e-3);
    EXPECT_EQ(recipe.max_depth_m, 60 * 1e-3);
    EXPECT_EQ(recipe.depth_step_m, 0.1 * 1e-3);
    EXPECT_EQ(recipe.min_x_m, -10 * 1e-3);
    EXPECT_EQ(recipe.max_x_m, 12 * 1e-3);
    EXPECT_EQ(recipe.x_step_m, 0.2 * 1e-3);
    EXPECT_EQ(recipe.title, "A \"quoted\" title");
    EXPECT_EQ(recipe.attenuation_compensation_dB_cm_MHz, 0.5);
    EXPECT_EQ(recipe.dynamic_range_dB, 50.0);
    EXPECT_EQ(recipe.reference_dB, -6.0);
    EXPECT_EQ(place_of(recipe, "grid.x_step_mm").line, 25);

    const Recipe again = read_recipe(Settings::from_text(recipe_toml(recipe), "r.toml"));
    EXPECT_EQ(recipe_toml(again), recipe_toml(recipe));
    EXPECT_EQ(again.focus_depths_m, recipe.focus_depths_m);
    EXPECT_EQ(again.high_pass_Hz, recipe.high_pass_Hz);
    EXPECT_EQ(again.title, recipe.title);
}

TEST(Recipe, KeysOfRetrospectiveFocusAndSectorsAreReadAndWrittenBack) {
    const Recipe recipe = recipe_of(R"(
[transmit]
focus = "retrospective"
window = "tukey"
window_parameter = 0.4
normalize = false
[grid]
sector_half_angle_deg = 37.3
angle_step_deg = 0.21
)");
    EXPECT_EQ(recipe.transmit_focus, TransmitFocus::retrospective);
    EXPECT_EQ(recipe.cone_window.kind, WindowKind::tukey);
    EXPECT_EQ(recipe.cone_window.parameter, 0.4);
    EXPECT_FALSE(recipe.normalize_events);
    // 37.3 and 0.21 degrees, times pi / 180.
    EXPECT_NEAR(recipe.sector_half_angle_rad.value(), 0.6510078, 1e-7);
    EXPECT_NEAR(recipe.angle_step_rad.value(), 0.003665191, 1e-9);
    const Recipe again = recipe_of(recipe_toml(recipe));
    EXPECT_EQ(recipe_toml(again), recipe_toml(recipe));
    EXPECT_EQ(again.sector_half_angle_rad, recipe.sector_half_angle_rad);
    EXPECT_EQ(again.cone_window.parameter, 0.4);
    EXPECT_FALSE(again.normalize_events);
    EXPECT_EQ(recipe_of("[transmit]\nfocus = \"retrospective\"").cone_window.kind, WindowKind::hann);
    EXPECT_EQ(recipe_of("").transmit_focus, TransmitFocus::as_transmitted);
    // What a recording of plane waves would refuse is not written for them.
    const std::string planes = recipe_toml(recipe_of("[transmit]\nangle_window = \"hann\""));
    EXPECT_EQ(planes.find("weights = \"as_receive\""), std::string::npos) << planes;
}

TEST(Recipe, OverridesAreInForceAndInItsWriting) {
    const std::vector<Override> overrides{{"receive.f_number", "3.5"}};
    const Recipe recipe = load_recipe("growing_aperture", overrides);
    EXPECT_EQ(recipe.f_number, 3.5);
    EXPECT_NE(recipe_toml(recipe).find("f_number = 3.5"), std::string::npos);
}

TEST(Recipe, WeightsComeFromAFileBesideTheRecipe) {
    const TemporaryFolder folder;
    folder.write("weights.txt", "# four of them\n0.5\n 1e0 \n\n1\r\n0.25\n");
    const auto path = folder.write("mine.toml", "[receive]\nweights_file = \"weights.txt\"\n");
    const Recipe recipe = load_recipe(path);
    EXPECT_EQ(recipe.custom_weights, (std::vector<double>{0.5, 1.0, 1.0, 0.25}));
    // The recipe's own writing carries the weights and needs the file no more.
    EXPECT_EQ(recipe_of(recipe_toml(recipe)).custom_weights, recipe.custom_weights);
}

TEST(Recipe, BadWeightsFilesAreRefusedAtTheirOwnLine) {
    const TemporaryFolder folder;
    const auto recipe = folder.write("mine.toml", "[receive]\nweights_file = \"weights.txt\"\n");
    const auto error = [&] { return message_of([&] { load_recipe(recipe); }); };
    EXPECT_EQ(error(), "2 " + recipe + ":2: receive.weights_file: cannot read '" + folder.path().string() +
                           "/weights.txt'; give the path of a text file, relative to the recipe, one weight per line");
    folder.write("weights.txt", "1\nheavy\n");
    EXPECT_EQ(error(),
              "2 " + folder.path().string() + "/weights.txt:2: 'heavy' is not a weight; write one number per line");
    folder.write("weights.txt", "1\nnan\n");
    EXPECT_NE(error().find("weights.txt:2: 'nan' is not a weight"), std::string::npos);
    folder.write("weights.txt", "# nothing\n");
    EXPECT_NE(error().find("needs at least one weight"), std::string::npos);
    folder.write("weights.txt", "1\n-2\n");
    EXPECT_NE(error().find("a sum greater than 0"), std::string::npos);
}

TEST(Recipe, SlipsAreNamedWithTheirRemedy) {
    struct Slip {
        const char* text;
        const char* place;
        const char* remedy;
    };
    const Slip slips[] = {
        {"[receive]\nfocus = \"fixed\"", "r.toml:2: receive.focus", "add focus_depth_mm"},
        {"[receive]\nfocus_depth_mm = 40", "r.toml:2: receive.focus_depth_mm", "set focus = \"fixed\""},
        {"[receive]\nfocus = \"fixed\"\nfocus_depth_mm = -4", "r.toml:3: receive.focus_depth_mm", ""},
        {"[receive]\nfocus = \"fixed\"\nfocus_depth_mm = nan", "r.toml:3: receive.focus_depth_mm", ""},
        {"[receive]\nfocus = \"zones\"", "r.toml:2: receive.focus", "add zone_depths_mm"},
        {"[receive]\nfocus = \"zones\"\nzone_depths_mm = [40]", "receive.zone_depths_mm", "focus = \"fixed\""},
        {"[receive]\nfocus = \"zones\"\nzone_depths_mm = [40, 20]", "receive.zone_depths_mm", "must rise"},
        {"[receive]\nzone_depths_mm = [20, 40]", "receive.zone_depths_mm", "set focus = \"zones\""},
        {"[receive]\nfocus = \"dinamic\"", "r.toml:2: receive.focus", "dynamic"},
        {"[receive]\nf_number = 2", "r.toml:2: receive.f_number", "set aperture = \"growing\""},
        {"[receive]\nmin_elements = 2", "r.toml:2: receive.min_elements", "set aperture = \"growing\""},
        {"[receive]\naperture = \"growing\"", "r.toml:2: receive.aperture", "add f_number"},
        {"[receive]\naperture = \"growing\"\nf_number = 0", "r.toml:3: receive.f_number", ""},
        {"[receive]\naperture = \"growing\"\nf_number = 2\nmin_elements = 9\nmax_elements = 8",
         "r.toml:4: receive.min_elements", "more than max_elements"},
        {"[receive]\nmax_elements = 0", "r.toml:2: receive.max_elements", ""},
        {"[receive]\nmax_elements = 2.5", "r.toml:2: receive.max_elements", ""},
        {"[receive]\nwindow = \"han\"", "r.toml:2: receive.window", "hann"},
        {"[receive]\nwindow = \"hann\"\nwindow_parameter = 2", "receive.window_parameter", "no parameter"},
        {"[receive]\nwindow = \"tukey\"\nwindow_parameter = 2", "r.toml:3: receive.window_parameter", ""},
        {"[receive]\nwindow = \"hann\"\nweights = [1, 1]", "receive.window", "keep one"},
        {"[receive]\nweights = []", "r.toml:2: receive.weights", ""},
        {"[receive]\nf_numbr = 2\naperture = \"growing\"", "r.toml:2: receive.f_numbr", "f_number"},
        {"interpolation = \"quintic\"", "r.toml:1: interpolation", "upsampled"},
        {"sound_speed_m_s = -1540", "r.toml:1: sound_speed_m_s", ""},
        {"sound_speed = 1540", "r.toml:1: sound_speed", "sound_speed_m_s"},
        {"high_pass_MHz = -1", "r.toml:1: high_pass_MHz", ""},
        {"high_pass = 1", "r.toml:1: high_pass", "high_pass_MHz"},
        {"keep_rf = 3", "r.toml:1: keep_rf", ""},
        {"[transmit]\nangle_window_parameter = 3", "transmit.angle_window_parameter", "angle_window"},
        {"[transmit]\nweights = \"same\"", "r.toml:2: transmit.weights", "as_receive"},
        {"[transmit]\nfocus = \"retro\"", "r.toml:2: transmit.focus", "retrospective"},
        {"[transmit]\nwindow = \"hann\"", "r.toml:2: transmit.window", "set focus = \"retrospective\""},
        {"[transmit]\nnormalize = false", "r.toml:2: transmit.normalize", "set focus = \"retrospective\""},
        {"[transmit]\nfocus = \"retrospective\"\nwindow = \"dolph_chebyshev\"", "r.toml:3: transmit.window",
         "such as kaiser"},
        {"[transmit]\nfocus = \"retrospective\"\nwindow_parameter = 2", "r.toml:3: transmit.window_parameter",
         "goes with window"},
        {"[grid]\nsector_half_angle_deg = 0", "r.toml:2: grid.sector_half_angle_deg", ""},
        {"[grid]\nsector_half_angle_deg = 90", "r.toml:2: grid.sector_half_angle_deg", ""},
        {"[grid]\nx_mm = [-5, 5]\nangle_step_deg = 1", "r.toml:3: grid.angle_step_deg", "keep one pair"},
        {"[grid]\nx_mm = [5, -5]", "r.toml:2: grid.x_mm", "min < max"},
        {"[grid]\nx_mm = [5]", "r.toml:2: grid.x_mm", ""},
        {"[grid]\nmin_depth_mm = 50\ndepth_mm = 20", "r.toml:2: grid.min_depth_mm", "less than depth_mm"},
        {"[grid]\ndepth_step_mm = 0", "r.toml:2: grid.depth_step_mm", ""},
        {"[picture]\ndynamic_range_dB = 0", "r.toml:2: picture.dynamic_range_dB", ""},
        {"[pictures]\ntitle = \"x\"", "r.toml:1: pictures", "picture"},
        {"[receive\n", "r.toml:1", ""},
    };
    for (const auto& [text, place, remedy] : slips) {
        SCOPED_TRACE(text);
        const std::string message = error_of(text);
        EXPECT_EQ(message.substr(0, 2), "2 ") << message;
        EXPECT_NE(message.find(place), std::string::npos) << message;
        EXPECT_NE(message.find(remedy), std::string::npos) << message;
        EXPECT_EQ(message.find('\n'), std::string::npos) << message;
    }
}

}  // namespace
}  // namespace echoloom
