// What was found of beams, in words and for machines.

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <nlohmann/json.hpp>
#include <numbers>

#include "recon/image/axis.h"
#include "recon/measure/csv.h"
#include "sim/base/text.h"
#include "tools/cli/field.h"
#include "tools/cli/output.h"

namespace echoloom {

namespace {

constexpr double mm = 1e-3;
constexpr double degrees = 180.0 / std::numbers::pi;

std::string fixed(std::optional<double> value, int decimals) {
    if (!value) {
        return "-";
    }
    std::array<char, 64> buffer{};
    std::snprintf(buffer.data(), buffer.size(), "%.*f", decimals, *value);
    return buffer.data();
}

std::optional<double> times(std::optional<double> value, double factor) {
    return value ? std::optional(*value * factor) : std::nullopt;
}

std::string right(const std::string& text, std::size_t width) {
    return std::string(width > text.size() ? width - text.size() : 0, ' ') + text;
}

bool is_disc(const Beam& beam) {
    return beam.aperture.shape == BeamAperture::Shape::disc;
}

char letter(std::size_t i) {
    return static_cast<char>('A' + i);
}

/// "64 elements, 19.2 mm wide, focused at 40 mm": what sends.
std::string described(const Beam& beam) {
    std::string words = beam.probe_name + ", " + beam.scan_name + ", event " + std::to_string(beam.event) + " of " +
                        std::to_string(beam.events) + ": ";
    words += (is_disc(beam) ? "rings " : "a row ") + plain(beam.aperture.width_m / mm) + " mm across, ";
    if (beam.unfocused) {
        words += "all at once";
    } else if (beam.focus_m > 0.0) {
        words += "focused at " + plain(std::round(beam.focus_m / mm * 100.0) / 100.0) + " mm";
    } else {
        words += "without a focus";
    }
    return words + "; " + plain(beam.frequency_Hz * 1e-6) + " MHz";
}

using Row = std::vector<std::string>;

/// Columns as wide as their widest cell, all but the first aligned at the right.
std::string aligned(const std::vector<Row>& rows, const std::string& indent) {
    std::vector<std::size_t> widths;
    for (const Row& row : rows) {
        widths.resize(std::max(widths.size(), row.size()));
        for (std::size_t i = 0; i < row.size(); ++i) {
            widths[i] = std::max(widths[i], row[i].size());
        }
    }
    std::string text;
    for (const Row& row : rows) {
        std::string line = indent + row[0] + std::string(widths[0] - row[0].size(), ' ');
        for (std::size_t i = 1; i < row.size(); ++i) {
            line += "  " + right(row[i], widths[i]);
        }
        text += line + '\n';
    }
    return text;
}

std::string summary(std::span<const Beam> beams) {
    std::vector<Row> rows{{""},
                          {"aperture D (mm)"},
                          {"wavelength (mm)"},
                          {"near zone by rule (mm)"},
                          {"  last maximum found on the axis (mm)"},
                          {"highest pressure on the axis at (mm)"},
                          {"  there (rho c v)"},
                          {"half angle found far away (deg)"},
                          {"  by rule (deg)"}};
    for (std::size_t i = 0; i < beams.size(); ++i) {
        const Beam& beam = beams[i];
        const std::string cells[] = {std::string(1, letter(i)),
                                     fixed(beam.aperture.width_m / mm, 2),
                                     fixed(beam.field.wavelength_m() / mm, 3),
                                     fixed(times(beam.near_zone_m, 1.0 / mm), 2),
                                     fixed(times(beam.last_maximum_m, 1.0 / mm), 2),
                                     fixed(beam.depth_m[beam.peak()] / mm, 1),
                                     fixed(beam.pressure[beam.peak()], 3),
                                     fixed(times(beam.far_half_angle_rad, degrees), 3),
                                     fixed(times(beam.rule_half_angle_rad, degrees), 3)};
        for (std::size_t row = 0; row < rows.size(); ++row) {
            rows[row].push_back(cells[row]);
        }
    }
    return aligned(rows, "  ");
}

/// Which aperture each rule belongs to, of those that were used.
std::string rules(std::span<const Beam> beams) {
    const auto any = [&](auto test) { return std::ranges::any_of(beams, test); };
    std::string text;
    if (any([](const Beam& beam) { return is_disc(beam) && beam.near_zone_m; })) {
        text +=
            "  A disc's near zone: D^2 / (4 lambda); its last maximum is exactly lambda / 4 before that.\n"
            "  Half amplitude of its far field: sin(angle) = 0.705 lambda / D.\n";
    }
    if (any([](const Beam& beam) { return !is_disc(beam) && beam.near_zone_m; })) {
        text +=
            "  A long strip's near zone, from the Fresnel integrals: 0.342 D^2 / lambda, which holds for a square "
            "too;\n"
            "  where the row is lower than it is wide, or has a lens, the last maximum lies elsewhere.\n"
            "  Half amplitude of a strip's far field: sin(angle) = 0.603 lambda / D.\n";
    }
    if (any([](const Beam& beam) { return beam.near_zone_m && !beam.aperture.plain; })) {
        text +=
            "  The rules are for all elements alike and at once. A focus lies within the near zone or hardly counts;\n"
            "  the fewer Fresnel zones the aperture holds, the farther in front of it the pressure is highest.\n";
    }
    if (any([](const Beam& beam) { return !beam.near_zone_m; })) {
        text += "  A curved face that fires at once sends a diverging wave; the rules say nothing about it.\n";
    }
    return text;
}

/// Indices of a dozen or so round depths, each a whole number of the steps at which widths are known.
std::vector<std::size_t> table_depths(const Beam& beam) {
    const double deepest_mm = beam.depth_m.back() / mm;
    const double step_mm = round_step(deepest_mm / 18.0);
    std::vector<std::size_t> indices;
    for (double depth_mm = step_mm; depth_mm <= deepest_mm * (1.0 + 1e-9); depth_mm += step_mm) {
        const double place = depth_mm / deepest_mm * static_cast<double>(beam.depth_m.size() / edge_stride);
        indices.push_back(static_cast<std::size_t>(std::lround(place)) * edge_stride - 1);
    }
    return indices;
}

std::optional<double> width_mm(const Beam& beam, std::size_t index) {
    return beam.edges[index] ? std::optional(beam.edges[index]->width_m() / mm) : std::nullopt;
}

std::string depth_table(std::span<const Beam> beams) {
    Row head{"depth (mm)"};
    for (const char* quantity : {"pressure ", "width (mm) "}) {
        for (std::size_t i = 0; i < beams.size(); ++i) {
            head.push_back(quantity + std::string(1, letter(i)));
        }
    }
    std::vector<Row> rows{head};
    for (const std::size_t index : table_depths(beams.front())) {
        Row row{right(fixed(beams.front().depth_m[index] / mm, 1), head[0].size())};
        for (const Beam& beam : beams) {
            row.push_back(fixed(beam.pressure[index], 3));
        }
        for (const Beam& beam : beams) {
            row.push_back(fixed(width_mm(beam, index), 2));
        }
        rows.push_back(row);
    }
    return aligned(rows, "  ");
}

nlohmann::ordered_json number(std::optional<double> value) {
    return value ? nlohmann::ordered_json(*value) : nlohmann::ordered_json(nullptr);
}

}  // namespace

std::string field_text(std::span<const Beam> beams) {
    std::string text = "Transmitted field, continuous wave\n\n";
    for (std::size_t i = 0; i < beams.size(); ++i) {
        text += std::string("  ") + letter(i) + "  " + described(beams[i]) + '\n';
    }
    text += '\n' + summary(beams) + '\n' + rules(beams) + '\n';
    text +=
        "  Along each beam's axis: pressure in units of rho c v, v being the velocity of the face, and full width at\n"
        "  half of the greatest amplitude at that depth.\n\n";
    return text + depth_table(beams) + '\n' + std::string(caution_words()) + '\n';
}

std::string field_csv(std::span<const Beam> beams) {
    std::string csv = "# " + std::string(caution_words()) + '\n' +
                      "probe,scan,event,frequency_MHz,aperture_mm,near_zone_rule_mm,last_axial_maximum_mm,"
                      "half_angle_deg,half_angle_rule_deg,depth_mm,axis_pressure_rho_c_v,width_half_amplitude_mm\n";
    for (const Beam& beam : beams) {
        const std::string common =
            csv_word(beam.probe_name) + ',' + csv_word(beam.scan_name) + ',' + std::to_string(beam.event) + ',' +
            csv_number(beam.frequency_Hz * 1e-6) + ',' + csv_number(beam.aperture.width_m / mm) + ',' +
            csv_number(times(beam.near_zone_m, 1.0 / mm)) + ',' + csv_number(times(beam.last_maximum_m, 1.0 / mm)) +
            ',' + csv_number(times(beam.far_half_angle_rad, degrees)) + ',' +
            csv_number(times(beam.rule_half_angle_rad, degrees)) + ',';
        for (std::size_t i = 0; i < beam.depth_m.size(); ++i) {
            csv += common + csv_number(beam.depth_m[i] / mm) + ',' + csv_number(beam.pressure[i]) + ',' +
                   csv_number(width_mm(beam, i)) + '\n';
        }
    }
    return csv;
}

std::string field_json(std::span<const Beam> beams) {
    nlohmann::ordered_json all = {{"format", "echoloom field"}, {"format_version", 1}, {"caution", caution_words()}};
    for (const Beam& beam : beams) {
        nlohmann::ordered_json one = {
            {"probe", beam.probe_name},
            {"scan", beam.scan_name},
            {"event", beam.event},
            {"unfocused", beam.unfocused},
            {"frequency_MHz", beam.frequency_Hz * 1e-6},
            {"aperture", is_disc(beam) ? "disc" : "strip"},
            {"aperture_mm", beam.aperture.width_m / mm},
            {"wavelength_mm", beam.field.wavelength_m() / mm},
            {"focus_mm", number(beam.focus_m > 0.0 ? std::optional(beam.focus_m / mm) : std::nullopt)},
            {"near_zone_rule_mm", number(times(beam.near_zone_m, 1.0 / mm))},
            {"last_axial_maximum_mm", number(times(beam.last_maximum_m, 1.0 / mm))},
            {"highest_pressure_at_mm", beam.depth_m[beam.peak()] / mm},
            {"half_angle_deg", number(times(beam.far_half_angle_rad, degrees))},
            {"half_angle_rule_deg", number(times(beam.rule_half_angle_rad, degrees))}};
        for (std::size_t i = edge_stride - 1; i < beam.depth_m.size(); i += edge_stride) {
            one["depths"].push_back({{"depth_mm", beam.depth_m[i] / mm},
                                     {"axis_pressure_rho_c_v", beam.pressure[i]},
                                     {"width_half_amplitude_mm", number(width_mm(beam, i))}});
        }
        all["beams"].push_back(one);
    }
    return all.dump(2) + '\n';
}

}  // namespace echoloom
