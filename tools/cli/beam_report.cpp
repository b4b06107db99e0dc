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
#include "tools/cli/beam.h"
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

std::string in_mm(double length_m) {
    return plain(std::round(length_m / mm * 100.0) / 100.0) + " mm";
}

/// "Transmit, a row 19.2 mm across, focused at 40 mm; 5 MHz": what takes part.
std::string described(const Beam& beam) {
    std::string words = beam.probe_name + ", " + beam.scan_name + ", event " + std::to_string(beam.event) + " of " +
                        std::to_string(beam.events) + ": " + way_word(beam.way) + ", ";
    words += (is_disc(beam) ? "rings " : "a row ") + plain(beam.aperture.width_m / mm) + " mm across, ";
    if (beam.way != BeamPath::receive) {
        words += beam.view.unfocused       ? "all at once"
                 : beam.sent_focus_m > 0.0 ? "focused at " + in_mm(beam.sent_focus_m)
                                           : std::string("without a focus");
        words += beam.way == BeamPath::two_way ? "; " : "";
    }
    if (beam.way != BeamPath::transmit) {
        words += "heard by " + beam.listening;
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

std::optional<double> ratio(std::optional<double> found, std::optional<double> rule) {
    return found && rule ? std::optional(*found / *rule) : std::nullopt;
}

/// A quantity in the summary: what was found, what the rule says, and their ratio. Left out where no beam has it.
struct Line {
    const char* name;
    int decimals;
    std::optional<double> (*value)(const Beam& beam);
};

std::optional<double> dB(const std::optional<Lobe>& lobe) {
    return lobe ? std::optional(20.0 * std::log10(lobe->level)) : std::nullopt;
}
std::optional<double> angle(const std::optional<Lobe>& lobe) {
    return lobe ? std::optional(lobe->angle_rad * degrees) : std::nullopt;
}
std::optional<double> pattern_width(const std::optional<BeamPattern>& pattern) {
    return pattern ? times(pattern_width_rad(*pattern), degrees) : std::nullopt;
}

constexpr Line lines[] = {
    {"aperture D (mm)", 2, [](const Beam& beam) { return std::optional(beam.aperture.width_m / mm); }},
    {"wavelength (mm)", 3, [](const Beam& beam) { return std::optional(beam.field.wavelength_m() / mm); }},
    {"near zone by rule (mm)", 2, [](const Beam& beam) { return times(beam.near_zone_m, 1.0 / mm); }},
    {"  last maximum found on the axis (mm)", 2, [](const Beam& beam) { return times(beam.last_maximum_m, 1.0 / mm); }},
    {"  found / rule", 4, [](const Beam& beam) { return ratio(beam.last_maximum_m, beam.near_zone_m); }},
    {"highest pressure on the axis at (mm)", 1,
     [](const Beam& beam) { return std::optional(beam.depth_m[beam.peak()] / mm); }},
    {"  there (rho c v)", 3, [](const Beam& beam) { return std::optional(beam.pressure[beam.peak()]); }},
    {"width compared at (mm)", 1,
     [](const Beam& beam) { return beam.focus_width_m ? std::optional(beam.compared_m / mm) : std::nullopt; }},
    {"  found there, half amplitude (mm)", 3, [](const Beam& beam) { return times(beam.focus_width_m, 1.0 / mm); }},
    {"  by rule (mm)", 3, [](const Beam& beam) { return times(beam.theory_focus_width_m, 1.0 / mm); }},
    {"  found / rule", 4, [](const Beam& beam) { return ratio(beam.focus_width_m, beam.theory_focus_width_m); }},
    {"half angle found far away (deg)", 3, [](const Beam& beam) { return times(beam.far_half_angle_rad, degrees); }},
    {"  by rule (deg)", 3, [](const Beam& beam) { return times(beam.theory_half_angle_rad, degrees); }},
    {"  found / rule", 4, [](const Beam& beam) { return ratio(beam.far_half_angle_rad, beam.theory_half_angle_rad); }},
};

constexpr Line pattern_lines[] = {
    {"angle of the main lobe (deg)", 2,
     [](const Beam& beam) { return std::optional(beam.pattern->angle_rad[beam.pattern->top] * degrees); }},
    {"its full width, half amplitude (deg)", 3, [](const Beam& beam) { return pattern_width(beam.pattern); }},
    {"  expected (deg)", 3, [](const Beam& beam) { return pattern_width(beam.expected); }},
    {"  found / expected", 4,
     [](const Beam& beam) { return ratio(pattern_width(beam.pattern), pattern_width(beam.expected)); }},
    {"highest side lobe (dB)", 2, [](const Beam& beam) { return dB(beam.side_lobe); }},
    {"  at (deg)", 2, [](const Beam& beam) { return angle(beam.side_lobe); }},
    {"  expected (dB)", 2, [](const Beam& beam) { return dB(beam.theory_side_lobe); }},
};

/// Of several lines with ratios only those that some beam has.
std::string table_of(std::span<const Line> all, std::span<const Beam> beams) {
    std::vector<Row> rows{{""}};
    for (std::size_t i = 0; i < beams.size(); ++i) {
        rows.front().push_back(std::string(1, letter(i)));
    }
    for (const Line& line : all) {
        const bool known = std::ranges::any_of(beams, [&](const Beam& beam) { return line.value(beam).has_value(); });
        if (!known) {
            continue;
        }
        Row row{line.name};
        for (const Beam& beam : beams) {
            row.push_back(fixed(line.value(beam), line.decimals));
        }
        rows.push_back(row);
    }
    return aligned(rows, "  ");
}

/// Which aperture each rule belongs to, and where it is from, of those that were used.
std::string rules(std::span<const Beam> beams) {
    const auto any = [&](auto test) { return std::ranges::any_of(beams, test); };
    std::string text;
    if (any([](const Beam& beam) { return is_disc(beam) && beam.near_zone_m; })) {
        text +=
            "  Near zone of a disc: D^2 / (4 lambda); its last maximum is exactly lambda / 4 before that (Kinsler et "
            "al.,\n"
            "  Fundamentals of Acoustics, 2000, sec. 7.4, from memory). Far away half amplitude at sin(angle) =\n"
            "  0.705 lambda / D, both ways 0.514 (2 J1(x) / x).\n";
    }
    if (any([](const Beam& beam) { return !is_disc(beam) && beam.near_zone_m; })) {
        text +=
            "  Near zone of a long strip: 0.342 D^2 / lambda, by the Fresnel integrals (first maximum of |C + jS|); "
            "not\n"
            "  D^2 / (4 lambda), which belongs to a disc. It holds for a square too; where the row is lower than it "
            "is\n"
            "  wide, or has a lens, the last maximum lies elsewhere. Far away half amplitude at sin(angle) =\n"
            "  0.603 lambda / D, both ways 0.443 (sin(x) / x).\n";
    }
    if (any([](const Beam& beam) { return beam.theory_focus_width_m.has_value(); })) {
        text +=
            "  Width in focus: lambda z / D times a constant of the weights' transform: alike 1.207, both ways 0.886; "
            "a disc\n"
            "  1.410 and 1.029 (paraxial: 0.07 / F-number^2 more at low F-numbers, recomputed).\n";
    }
    if (any([](const Beam& beam) { return beam.near_zone_m && !beam.aperture.plain; })) {
        text +=
            "  The rules are for all elements alike and at once. A focus lies within the near zone or hardly counts;\n"
            "  the fewer Fresnel zones the aperture holds, the farther in front of it the pressure is highest.\n";
    }
    if (any([](const Beam& beam) { return !beam.near_zone_m; })) {
        text += "  A curved face that fires at once sends a diverging wave; the rules say nothing about it.\n";
    }
    if (beams.front().view.pulsed) {
        text +=
            "  The rules are for continuous waves; a pulse evens out the near zone and fills the nulls between "
            "lobes.\n";
    }
    return text;
}

/// A row for each grating lobe of each beam.
std::string grating_table(std::span<const Beam> beams) {
    std::vector<Row> rows{{"", "order", "predicted (deg)", "found (deg)", "level (dB)", "expected (dB)"}};
    for (std::size_t i = 0; i < beams.size(); ++i) {
        for (const GratingLobe& lobe : beams[i].gratings) {
            const bool far =
                lobe.angle_rad && beams[i].expected && !beams[i].pattern->distance_m && !beams[i].view.pulsed;
            rows.push_back(
                {std::string(1, letter(i)), std::to_string(lobe.order),
                 lobe.angle_rad ? fixed(*lobe.angle_rad * degrees, 2) : "beyond 90", fixed(angle(lobe.found), 2),
                 fixed(dB(lobe.found), 2),
                 fixed(far ? std::optional(20.0 * std::log10(std::max(lobe.level, 1e-12))) : std::nullopt, 2)});
        }
    }
    return rows.size() == 1 ? std::string() : aligned(rows, "  ");
}

std::string where(const BeamPattern& pattern) {
    return pattern.distance_m ? "at " + in_mm(*pattern.distance_m) : std::string("infinitely far away");
}

std::string pattern_text(std::span<const Beam> beams) {
    std::string text = "Against angle, ";
    for (std::size_t i = 0; i < beams.size(); ++i) {
        text += (i == 0 ? "" : ", ") + std::string(1, letter(i)) + " " + where(*beams[i].pattern);
    }
    text += "\n\n" + table_of(pattern_lines, beams) + '\n';
    if (std::ranges::any_of(beams, [](const Beam& beam) { return beam.expected.has_value(); })) {
        text +=
            "  Expected: the array factor of the weights times the element factor, continuous wave, paraxial "
            "(rectangular\n"
            "  weights: side lobe -13.26 dB, both ways -26.52; a disc -17.57 and -35.14).\n";
    }
    const std::string gratings = grating_table(beams);
    if (!gratings.empty()) {
        text += "\n  Grating lobes: sin(angle) = sin(steering) + order x lambda / pitch\n" + gratings;
        if (beams.front().view.pulsed) {
            text +=
                "  A pulse of few periods cannot add up there over the whole aperture: about 0.94 / (B N) of the main "
                "lobe\n"
                "  for equal point elements, B the bandwidth of the way (von Ramm & Smith 1983, from memory).\n";
        } else if (std::ranges::any_of(beams, [](const Beam& beam) { return beam.pattern->distance_m.has_value(); })) {
            text +=
                "  Delays that focus ahead do not focus there: near the array grating lobes are lower and broader.\n";
        }
    } else if (std::ranges::any_of(beams, [](const Beam& beam) { return beam.theory.pitch_m > 0.0; })) {
        text += "\n  No grating lobes: the pitch is too small for any at this steering.\n";
    }
    return text + '\n';
}

/// Indices of a dozen or so round depths, each a whole number of the steps at which widths are known.
std::vector<std::size_t> table_depths(const Beam& beam) {
    const double deepest_mm = beam.depth_m.back() / mm;
    const double step_mm = round_step(deepest_mm / 18.0);
    const std::size_t widths = beam.depth_m.size() / edge_stride;
    std::vector<std::size_t> indices;
    for (double depth_mm = step_mm; depth_mm <= deepest_mm * (1.0 + 1e-9); depth_mm += step_mm) {
        const double place = depth_mm / deepest_mm * static_cast<double>(widths);
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

std::string way_name(BeamPath way) {
    return way == BeamPath::transmit ? "transmit" : way == BeamPath::receive ? "receive" : "two-way";
}

nlohmann::ordered_json pattern_json(const Beam& beam) {
    nlohmann::ordered_json gratings = nlohmann::ordered_json::array();
    for (const GratingLobe& lobe : beam.gratings) {
        gratings.push_back(
            {{"order", lobe.order},
             {"predicted_deg", number(times(lobe.angle_rad, degrees))},
             {"found_deg", number(angle(lobe.found))},
             {"level_dB", number(dB(lobe.found))},
             {"expected_far_away_dB",
              number(lobe.angle_rad ? std::optional(20.0 * std::log10(std::max(lobe.level, 1e-12))) : std::nullopt)}});
    }
    const BeamPattern& pattern = *beam.pattern;
    return {{"distance_mm", number(times(pattern.distance_m, 1.0 / mm))},
            {"main_lobe_deg", pattern.angle_rad[pattern.top] * degrees},
            {"width_deg", number(pattern_width(beam.pattern))},
            {"width_expected_deg", number(pattern_width(beam.expected))},
            {"side_lobe_dB", number(dB(beam.side_lobe))},
            {"side_lobe_deg", number(angle(beam.side_lobe))},
            {"side_lobe_expected_dB", number(dB(beam.theory_side_lobe))},
            {"grating_lobes", gratings}};
}

}  // namespace

std::string beam_text(std::span<const Beam> beams) {
    std::string text = beams_title(beams) + "\n\n";
    for (std::size_t i = 0; i < beams.size(); ++i) {
        text += std::string("  ") + letter(i) + "  " + described(beams[i]) + '\n';
    }
    text += '\n' + table_of(lines, beams) + '\n' + rules(beams) + '\n';
    if (beams.front().pattern) {
        text += pattern_text(beams);
    }
    text +=
        "  Along each beam's axis: pressure in units of rho c v, v being the velocity of the face, and full width at\n"
        "  half of the greatest amplitude at that depth.\n";
    if (std::ranges::any_of(beams, [](const Beam& beam) { return beam.way != BeamPath::transmit; })) {
        text +=
            "  Heard is as loud as it would be if what listens sent, with its weights; both ways the product of two "
            "such.\n";
    }
    text += beams.front().view.plane == BeamPlane::elevation ? "  Widths are along elevation.\n\n" : "\n";
    return text + depth_table(beams) + '\n' + std::string(caution_words()) + '\n';
}

std::string beam_csv(std::span<const Beam> beams) {
    std::string csv = "# " + std::string(caution_words()) + '\n' +
                      "probe,scan,event,way,pulsed,frequency_MHz,aperture_mm,near_zone_theory_mm,last_axial_maximum_mm,"
                      "half_angle_deg,half_angle_theory_deg,depth_mm,axis_pressure_rho_c_v,width_half_amplitude_mm\n";
    for (const Beam& beam : beams) {
        const std::string common =
            csv_word(beam.probe_name) + ',' + csv_word(beam.scan_name) + ',' + std::to_string(beam.event) + ',' +
            csv_word(way_name(beam.way)) + ',' + (beam.view.pulsed ? "1," : "0,") +
            csv_number(beam.frequency_Hz * 1e-6) + ',' + csv_number(beam.aperture.width_m / mm) + ',' +
            csv_number(times(beam.near_zone_m, 1.0 / mm)) + ',' + csv_number(times(beam.last_maximum_m, 1.0 / mm)) +
            ',' + csv_number(times(beam.far_half_angle_rad, degrees)) + ',' +
            csv_number(times(beam.theory_half_angle_rad, degrees)) + ',';
        for (std::size_t i = 0; i < beam.depth_m.size(); ++i) {
            csv += common + csv_number(beam.depth_m[i] / mm) + ',' + csv_number(beam.pressure[i]) + ',' +
                   csv_number(width_mm(beam, i)) + '\n';
        }
    }
    return csv;
}

std::string beam_json(std::span<const Beam> beams) {
    nlohmann::ordered_json all = {{"format", "echoloom beam"}, {"format_version", 1}, {"caution", caution_words()}};
    for (const Beam& beam : beams) {
        nlohmann::ordered_json one = {
            {"probe", beam.probe_name},
            {"scan", beam.scan_name},
            {"event", beam.event},
            {"way", way_name(beam.way)},
            {"listening",
             beam.listening.empty() ? nlohmann::ordered_json(nullptr) : nlohmann::ordered_json(beam.listening)},
            {"pulsed", beam.view.pulsed},
            {"unfocused", beam.view.unfocused},
            {"frequency_MHz", beam.frequency_Hz * 1e-6},
            {"aperture", is_disc(beam) ? "disc" : "strip"},
            {"aperture_mm", beam.aperture.width_m / mm},
            {"wavelength_mm", beam.field.wavelength_m() / mm},
            {"focus_mm", number(beam.focus_m > 0.0 ? std::optional(beam.focus_m / mm) : std::nullopt)},
            {"near_zone_theory_mm", number(times(beam.near_zone_m, 1.0 / mm))},
            {"last_axial_maximum_mm", number(times(beam.last_maximum_m, 1.0 / mm))},
            {"highest_pressure_at_mm", beam.depth_m[beam.peak()] / mm},
            {"half_angle_deg", number(times(beam.far_half_angle_rad, degrees))},
            {"half_angle_theory_deg", number(times(beam.theory_half_angle_rad, degrees))},
            {"width_compared_at_mm", number(beam.focus_width_m ? std::optional(beam.compared_m / mm) : std::nullopt)},
            {"width_there_mm", number(times(beam.focus_width_m, 1.0 / mm))},
            {"width_there_theory_mm", number(times(beam.theory_focus_width_m, 1.0 / mm))}};
        if (beam.pattern) {
            one["pattern"] = pattern_json(beam);
        }
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
