#include <array>
#include <charconv>
#include <cmath>
#include <numbers>

#include "recon/beamform/recipe.h"

namespace echoloom {
namespace {

/// Shortest text that reads back as the same number, with a point so that TOML takes it for a float.
std::string exact(double value) {
    std::array<char, 40> buffer{};
    const auto result = std::to_chars(buffer.data(), buffer.data() + buffer.size(), value);
    std::string text(buffer.data(), result.ptr);
    if (text.find_first_of(".en") == std::string::npos) {
        text += ".0";
    }
    return text;
}

std::string quoted(std::string_view text) {
    static constexpr std::string_view hex = "0123456789abcdef";
    std::string result = "\"";
    for (const char c : text) {
        const auto code = static_cast<unsigned char>(c);
        if (c == '"' || c == '\\') {
            result += '\\';
            result += c;
        } else if (code < 0x20 || code == 0x7f) {
            result += "\\u00";
            result += hex[code >> 4];
            result += hex[code & 15];
        } else {
            result += c;
        }
    }
    return result + '"';
}

class Writer {
  public:
    void table(std::string_view name) { text_ += "\n[" + std::string(name) + "]\n"; }
    void raw(std::string_view key, const std::string& value) { text_ += std::string(key) + " = " + value + "\n"; }
    void text(std::string_view key, std::string_view value) { raw(key, quoted(value)); }
    void flag(std::string_view key, bool value) { raw(key, value ? "true" : "false"); }
    void number(std::string_view key, double value) { raw(key, exact(value)); }
    void number(std::string_view key, std::optional<double> value) {
        if (value) {
            number(key, *value);
        }
    }
    /// Kept in metres by the recipe, written in millimetres.
    void millimetres(std::string_view key, std::optional<double> metres) {
        if (metres) {
            number(key, as_millimetres(*metres));
        }
    }
    /// Kept in radians, written in degrees.
    void degrees(std::string_view key, std::optional<double> radians) {
        if (radians) {
            number(key, in_units_of(std::numbers::pi / 180.0, *radians));
        }
    }
    void megahertz(std::string_view key, std::optional<double> hertz) {
        if (hertz) {
            number(key, in_units_of(1e6, *hertz));
        }
    }
    void list(std::string_view key, const std::vector<double>& values) {
        std::string text = "[";
        for (std::size_t i = 0; i < values.size(); ++i) {
            text += (i == 0 ? "" : ", ") + exact(values[i]);
        }
        raw(key, text + "]");
    }
    void window(std::string_view key, std::string_view parameter_key, const Window& window) {
        text(key, window_name(window.kind));
        const WindowParameter parameter = window_parameter(window.kind);
        if (parameter.most > parameter.least) {
            number(parameter_key, window.parameter);
        }
    }
    static double as_millimetres(double metres) { return in_units_of(1e-3, metres); }
    std::string take() { return std::move(text_); }

  private:
    /// The value that gives the same SI value when it is read back; division can miss it by one unit in the last place.
    static double in_units_of(double unit, double si) {
        const double guess = si / unit;
        for (const double value : {guess, std::nextafter(guess, -1e9), std::nextafter(guess, 1e9)}) {
            if (value * unit == si) {
                return value;
            }
        }
        return guess;
    }

    std::string text_;
};

void write_receive(Writer& out, const Recipe& recipe) {
    out.table("receive");
    switch (recipe.focus) {
        case FocusMode::dynamic:
            out.text("focus", "dynamic");
            break;
        case FocusMode::fixed:
            out.text("focus", "fixed");
            out.millimetres("focus_depth_mm", recipe.focus_depths_m.front());
            break;
        case FocusMode::zones: {
            std::vector<double> depths = recipe.focus_depths_m;
            for (double& depth : depths) {
                depth = Writer::as_millimetres(depth);
            }
            out.text("focus", "zones");
            out.list("zone_depths_mm", depths);
            break;
        }
    }
    const bool growing = recipe.aperture == ApertureMode::growing;
    out.text("aperture", growing ? "growing" : "constant");
    if (growing) {
        out.number("f_number", recipe.f_number);
        if (recipe.min_elements) {
            out.raw("min_elements", std::to_string(*recipe.min_elements));
        }
    }
    if (recipe.max_elements) {
        out.raw("max_elements", std::to_string(*recipe.max_elements));
    }
    if (recipe.custom_weights.empty()) {
        out.window("window", "window_parameter", recipe.window);
    } else {
        out.list("weights", recipe.custom_weights);
    }
    out.flag("normalize", recipe.normalize_depth);
}

/// Scans of another kind refuse these keys, so they are written only where they say something.
void write_transmit(Writer& out, const Recipe& recipe) {
    const bool retrospective = recipe.transmit_focus == TransmitFocus::retrospective;
    const bool equal = recipe.transmit_weights == TransmitWeights::equal;
    if (!retrospective && !equal && !recipe.angle_window) {
        return;
    }
    out.table("transmit");
    if (retrospective) {
        out.text("focus", "retrospective");
        out.window("window", "window_parameter", recipe.cone_window);
        out.flag("normalize", recipe.normalize_events);
    }
    if (equal) {
        out.text("weights", "equal");
    }
    if (recipe.angle_window) {
        out.window("angle_window", "angle_window_parameter", *recipe.angle_window);
    }
}

}  // namespace

std::string recipe_toml(const Recipe& recipe) {
    static constexpr std::array<std::string_view, 3> interpolations{"linear", "cubic", "upsampled"};
    Writer out;
    out.number("sound_speed_m_s", recipe.sound_speed_m_s);
    out.text("interpolation", interpolations[static_cast<std::size_t>(recipe.interpolation)]);
    out.megahertz("high_pass_MHz", recipe.high_pass_Hz);
    out.flag("keep_rf", recipe.keep_rf);
    write_receive(out, recipe);

    write_transmit(out, recipe);

    out.table("grid");
    out.millimetres("min_depth_mm", recipe.min_depth_m);
    out.millimetres("depth_mm", recipe.max_depth_m);
    out.millimetres("depth_step_mm", recipe.depth_step_m);
    if (recipe.min_x_m && recipe.max_x_m) {
        out.list("x_mm", {Writer::as_millimetres(*recipe.min_x_m), Writer::as_millimetres(*recipe.max_x_m)});
    }
    out.millimetres("x_step_mm", recipe.x_step_m);
    out.degrees("sector_half_angle_deg", recipe.sector_half_angle_rad);
    out.degrees("angle_step_deg", recipe.angle_step_rad);

    out.table("picture");
    out.text("title", recipe.title);
    out.number("attenuation_compensation_dB_cm_MHz", recipe.attenuation_compensation_dB_cm_MHz);
    out.number("dynamic_range_dB", recipe.dynamic_range_dB);
    out.number("reference_dB", recipe.reference_dB);
    return out.take();
}

}  // namespace echoloom
