#include "recon/beamform/recipe.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

#include "recon/beamform/weights_file.h"
#include "sim/array/window_settings.h"
#include "sim/base/shipped.h"
#include "sim/base/text.h"

namespace echoloom {
namespace {

constexpr std::array<std::string_view, 3> focus_names{"fixed", "zones", "dynamic"};
constexpr std::array<std::string_view, 2> aperture_names{"constant", "growing"};
constexpr std::array<std::string_view, 3> interpolation_names{"linear", "cubic", "upsampled"};
constexpr std::array<std::string_view, 2> transmit_weights_names{"as_receive", "equal"};
constexpr std::array<std::string_view, 2> transmit_focus_names{"as_transmitted", "retrospective"};
constexpr double degree = std::numbers::pi / 180.0;
constexpr double millimetre = 1e-3;
constexpr double megahertz = 1e6;

/// Position of a name in the list it was checked against.
template <class Enum, std::size_t Count>
Enum as_enum(const std::array<std::string_view, Count>& names, std::string_view name) {
    return static_cast<Enum>(std::ranges::find(names, name) - names.begin());
}

void remember(Recipe& recipe, Settings& table, const std::string& prefix, const std::vector<std::string_view>& keys) {
    for (const std::string_view key : keys) {
        if (table.has(key)) {
            recipe.places.insert_or_assign(prefix + std::string(key), table.place(key));
        }
    }
}

void refuse(Settings& table, std::string_view key, const std::string& why) {
    if (table.has(key)) {
        table.fail(key, why);
    }
}

void read_focus(Settings& receive, Recipe& recipe) {
    recipe.focus = as_enum<FocusMode>(focus_names, receive.one_of_or("focus", "dynamic", focus_names));
    if (recipe.focus != FocusMode::fixed) {
        refuse(receive, "focus_depth_mm", "goes with focus = \"fixed\" alone; remove it or set focus = \"fixed\"");
    }
    if (recipe.focus != FocusMode::zones) {
        refuse(receive, "zone_depths_mm", "goes with focus = \"zones\" alone; remove it or set focus = \"zones\"");
    }
    if (recipe.focus == FocusMode::fixed) {
        if (!receive.has("focus_depth_mm")) {
            receive.fail("focus", "a fixed focus needs its depth; add focus_depth_mm, for example 40");
        }
        recipe.focus_depths_m = {receive.number("focus_depth_mm", positive(1000.0)) * millimetre};
    }
    if (recipe.focus == FocusMode::zones) {
        if (!receive.has("zone_depths_mm")) {
            receive.fail("focus", "focal zones need their depths; add zone_depths_mm, for example [20, 40, 60]");
        }
        recipe.focus_depths_m = receive.numbers("zone_depths_mm", positive(1000.0));
        if (recipe.focus_depths_m.size() < 2) {
            receive.fail("zone_depths_mm", "needs two depths or more; one depth is focus = \"fixed\"");
        }
        if (!std::ranges::is_sorted(recipe.focus_depths_m, std::ranges::less_equal{})) {
            receive.fail("zone_depths_mm", "must rise from each depth to the next");
        }
        for (double& depth : recipe.focus_depths_m) {
            depth *= millimetre;
        }
    }
}

void read_aperture(Settings& receive, Recipe& recipe) {
    recipe.aperture = as_enum<ApertureMode>(aperture_names, receive.one_of_or("aperture", "constant", aperture_names));
    if (receive.has("max_elements")) {
        recipe.max_elements = static_cast<int>(receive.integer("max_elements", 1, 65536));
    }
    if (recipe.aperture == ApertureMode::constant) {
        const std::string why = "goes with aperture = \"growing\" alone; remove it or set aperture = \"growing\"";
        refuse(receive, "f_number", why);
        refuse(receive, "min_elements", why + " (a constant aperture's width is max_elements)");
        return;
    }
    if (!receive.has("f_number")) {
        receive.fail("aperture", "a growing aperture needs its F-number; add f_number, for example 2");
    }
    recipe.f_number = receive.number("f_number", between(0.1, 100.0));
    if (receive.has("min_elements")) {
        recipe.min_elements = static_cast<int>(receive.integer("min_elements", 1, 65536));
        if (recipe.max_elements && *recipe.min_elements > *recipe.max_elements) {
            receive.fail("min_elements", plain(*recipe.min_elements) + " is more than max_elements = " +
                                             plain(*recipe.max_elements) + "; swap or lower it");
        }
    }
}

void read_apodization(Settings& receive, Recipe& recipe) {
    recipe.normalize_depth = receive.flag_or("normalize", true);
    const bool from_file = receive.has("weights_file");
    if (!from_file && !receive.has("weights")) {
        recipe.window = read_window(receive, "window", "window_parameter");
        return;
    }
    const std::string key = from_file ? "weights_file" : "weights";
    refuse(receive, "window", "weights from " + key + " replace a window; keep one of the two");
    refuse(receive, "window_parameter", "weights from " + key + " have no parameter; remove the key");
    if (from_file) {
        refuse(receive, "weights", "given beside weights_file; keep one of the two");
        const auto path = receive.file().parent_path() / receive.text(key);
        recipe.custom_weights = read_weights_file(path, receive.place(key));
    } else {
        recipe.custom_weights = receive.numbers(key, between(-1e6, 1e6));
    }
    double sum = 0.0;
    for (const double weight : recipe.custom_weights) {
        sum += weight;
    }
    if (recipe.custom_weights.empty() || !(sum > 0.0)) {
        receive.fail(key, "needs at least one weight, and a sum greater than 0");
    }
}

void read_retrospective(Settings& transmit, Recipe& recipe) {
    recipe.transmit_focus = as_enum<TransmitFocus>(transmit_focus_names,
                                                   transmit.one_of_or("focus", "as_transmitted", transmit_focus_names));
    if (recipe.transmit_focus == TransmitFocus::as_transmitted) {
        for (const char* const key : {"window", "window_parameter", "normalize"}) {
            refuse(transmit, key,
                   "goes with focus = \"retrospective\" alone; remove it or set focus = \"retrospective\"");
        }
        return;
    }
    if (transmit.has("window")) {
        recipe.cone_window = read_window(transmit, "window", "window_parameter");
    } else {
        refuse(transmit, "window_parameter", "goes with window; add it or remove this key");
    }
    if (recipe.cone_window.kind == WindowKind::dolph_chebyshev) {
        transmit.fail("window",
                      "dolph_chebyshev exists for a count of elements, and a cone has none; take another, "
                      "such as kaiser");
    }
    recipe.normalize_events = transmit.flag_or("normalize", true);
}

void read_transmit(Settings& transmit, Recipe& recipe) {
    read_retrospective(transmit, recipe);
    recipe.transmit_weights = as_enum<TransmitWeights>(
        transmit_weights_names, transmit.one_of_or("weights", "as_receive", transmit_weights_names));
    if (transmit.has("angle_window")) {
        recipe.angle_window = read_window(transmit, "angle_window", "angle_window_parameter");
    } else {
        refuse(transmit, "angle_window_parameter", "goes with angle_window; add it or remove this key");
    }
}

void read_grid(Settings& grid, Recipe& recipe) {
    const auto metres = [&](std::string_view key, Range range) {
        const auto value = grid.number_if(key, range);
        return value ? std::optional(*value * millimetre) : std::nullopt;
    };
    recipe.min_depth_m = metres("min_depth_mm", between(0.0, 1000.0));
    recipe.max_depth_m = metres("depth_mm", positive(1000.0));
    recipe.depth_step_m = metres("depth_step_mm", positive(10.0));
    recipe.x_step_m = metres("x_step_mm", positive(10.0));
    if (recipe.min_depth_m && recipe.max_depth_m && *recipe.min_depth_m >= *recipe.max_depth_m) {
        grid.fail("min_depth_mm", "must be less than depth_mm");
    }
    if (grid.has("x_mm")) {
        const auto range = grid.numbers("x_mm", between(-1000.0, 1000.0), 2);
        if (range[0] >= range[1]) {
            grid.fail("x_mm", "must be [min, max] with min < max");
        }
        recipe.min_x_m = range[0] * millimetre;
        recipe.max_x_m = range[1] * millimetre;
    }
    const auto radians = [&](std::string_view key, Range range) {
        const auto value = grid.number_if(key, range);
        return value ? std::optional(*value * degree) : std::nullopt;
    };
    recipe.sector_half_angle_rad = radians("sector_half_angle_deg", positive(85.0));
    recipe.angle_step_rad = radians("angle_step_deg", positive(10.0));
    for (const char* const key : {"sector_half_angle_deg", "angle_step_deg"}) {
        if (recipe.min_x_m || recipe.x_step_m) {
            refuse(grid, key, "is of a sector, and x_mm and x_step_mm are of columns straight down; keep one pair");
        }
    }
}

void read_picture(Settings& picture, Recipe& recipe) {
    recipe.title = picture.text_or("title", recipe.name);
    recipe.attenuation_compensation_dB_cm_MHz =
        picture.number_or("attenuation_compensation_dB_cm_MHz", 0.0, between(0.0, 10.0));
    recipe.dynamic_range_dB = picture.number_or("dynamic_range_dB", 60.0, between(6.0, 200.0));
    recipe.reference_dB = picture.number_if("reference_dB", between(-200.0, 200.0));
}

/// One table of the file and the keys it may hold.
struct TableKeys {
    std::string_view table;
    std::vector<std::string_view> keys;
};

/// Marks every key known before any is read, so that a misspelt key is reported as such and not as a missing one.
void check_keys(Settings& settings, Recipe& recipe) {
    remember(recipe, settings, "", {"sound_speed_m_s", "interpolation", "high_pass_MHz", "keep_rf"});
    static const std::array<TableKeys, 4> known{
        TableKeys{"receive",
                  {"focus", "focus_depth_mm", "zone_depths_mm", "aperture", "f_number", "min_elements", "max_elements",
                   "window", "window_parameter", "weights_file", "weights", "normalize"}},
        TableKeys{
            "transmit",
            {"focus", "window", "window_parameter", "normalize", "weights", "angle_window", "angle_window_parameter"}},
        TableKeys{"grid",
                  {"min_depth_mm", "depth_mm", "depth_step_mm", "x_mm", "x_step_mm", "sector_half_angle_deg",
                   "angle_step_deg"}},
        TableKeys{"picture", {"title", "attenuation_compensation_dB_cm_MHz", "dynamic_range_dB", "reference_dB"}}};
    for (const auto& [name, keys] : known) {
        if (auto table = settings.table_if(name)) {
            remember(recipe, *table, std::string(name) + ".", keys);
        }
    }
    settings.finish();
}

}  // namespace

Recipe read_recipe(Settings settings) {
    Recipe recipe;
    recipe.name = settings.file().stem().string();
    recipe.title = recipe.name;
    recipe.source = settings.source_text();
    check_keys(settings, recipe);
    recipe.sound_speed_m_s = settings.number_if("sound_speed_m_s", between(100.0, 10000.0));
    recipe.interpolation = as_enum<Interpolation>(
        interpolation_names, settings.one_of_or("interpolation", "upsampled", interpolation_names));
    if (const auto high_pass = settings.number_if("high_pass_MHz", between(0.0, 1000.0))) {
        recipe.high_pass_Hz = *high_pass * megahertz;
    }
    recipe.keep_rf = settings.flag_or("keep_rf", false);
    if (auto receive = settings.table_if("receive")) {
        read_focus(*receive, recipe);
        read_aperture(*receive, recipe);
        read_apodization(*receive, recipe);
    }
    if (auto transmit = settings.table_if("transmit")) {
        read_transmit(*transmit, recipe);
    }
    if (auto grid = settings.table_if("grid")) {
        read_grid(*grid, recipe);
    }
    if (auto picture = settings.table_if("picture")) {
        read_picture(*picture, recipe);
    }
    return recipe;
}

Recipe load_recipe(const std::string& path_or_name, std::span<const Override> overrides) {
    return read_recipe(Settings::from_file(find_shipped(ShippedKind::recipe, path_or_name), overrides));
}

Place place_of(const Recipe& recipe, std::string_view dotted_key) {
    const auto found = recipe.places.find(dotted_key);
    return found != recipe.places.end() ? found->second : Place{{}, 0, std::string(dotted_key)};
}

}  // namespace echoloom
