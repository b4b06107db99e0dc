// The table of beams for people.

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>

#include "recon/image/axis.h"
#include "sim/base/text.h"
#include "tools/cli/beam.h"
#include "tools/cli/beam_numbers.h"
#include "tools/cli/output.h"

namespace echoloom {

namespace {

constexpr double mm = 1e-3;

std::string fixed(std::optional<double> value, int decimals) {
    if (!value) {
        return "-";
    }
    std::array<char, 64> buffer{};
    std::snprintf(buffer.data(), buffer.size(), "%.*f", decimals, *value);
    return buffer.data();
}

std::string right(const std::string& text, std::size_t width) {
    return std::string(width > text.size() ? width - text.size() : 0, ' ') + text;
}

char letter(std::size_t i) {
    return static_cast<char>('A' + i);
}

std::string in_mm(double length_m) {
    return plain(std::round(length_m / mm * 100.0) / 100.0) + " mm";
}

/// "Transmit, aperture 19.2 mm, focused at 40 mm; 5 MHz": what takes part.
std::string described(const Beam& beam) {
    std::string words = beam.probe_name + ", " + beam.scan_name + ", event " + std::to_string(beam.event + 1) + " of " +
                        std::to_string(beam.events) + ": " + path_title(beam.path) + ", ";
    words += (is_disc(beam) ? "round" : "linear") + std::string(" aperture of ") + plain(beam.aperture.width_m / mm) +
             " mm, ";
    if (beam.path != BeamPath::receive) {
        words += beam.view.unfocused           ? "all elements at once"
                 : beam.transmit_focus_m > 0.0 ? "focused at " + in_mm(beam.transmit_focus_m)
                                               : std::string("without a focus");
        words += beam.path == BeamPath::two_way ? "; " : "";
    }
    if (beam.path != BeamPath::transmit) {
        words += "received by " + beam.receive;
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

std::optional<double> ratio(std::optional<double> measured, std::optional<double> theory) {
    return measured && theory ? std::optional(*measured / *theory) : std::nullopt;
}

/// A quantity in the summary: measured, by theory, and their ratio. Left out where no beam has it.
struct Line {
    const char* name;
    int decimals;
    std::optional<double> (*value)(const Beam& beam);
};

/// Of beams that pass the array's pattern so many times, whose units are alike.
std::optional<double> peak_pressure(const Beam& beam, int passes) {
    return beam.passes() == passes ? std::optional(beam.pressure[beam.peak()]) : std::nullopt;
}

constexpr Line lines[] = {
    {"aperture D (mm)", 2, [](const Beam& beam) { return std::optional(beam.aperture.width_m / mm); }},
    {"wavelength (mm)", 3, [](const Beam& beam) { return std::optional(beam.field.wavelength_m() / mm); }},
    {"near zone, theory (mm)", 2, [](const Beam& beam) { return times(beam.near_zone_m, 1.0 / mm); }},
    {"  last maximum on the axis, measured (mm)", 2,
     [](const Beam& beam) { return times(beam.last_maximum_m, 1.0 / mm); }},
    {"  measured / theory", 4, [](const Beam& beam) { return ratio(beam.last_maximum_m, beam.near_zone_m); }},
    {"peak pressure on the axis at (mm)", 1,
     [](const Beam& beam) { return std::optional(beam.depth_m[beam.peak()] / mm); }},
    {"  there, one way, in rho c v", 3, [](const Beam& beam) { return peak_pressure(beam, 1); }},
    {"  there, two-way, in (rho c v)^2", 3, [](const Beam& beam) { return peak_pressure(beam, 2); }},
    {"width compared at (mm)", 1,
     [](const Beam& beam) { return beam.focus_width_m ? std::optional(beam.compared_m / mm) : std::nullopt; }},
    {"  -6 dB width there, measured (mm)", 3, [](const Beam& beam) { return times(beam.focus_width_m, 1.0 / mm); }},
    {"  theory (mm)", 3, [](const Beam& beam) { return times(beam.theory_focus_width_m, 1.0 / mm); }},
    {"  measured / theory", 4, [](const Beam& beam) { return ratio(beam.focus_width_m, beam.theory_focus_width_m); }},
    {"far-field half angle, measured (deg)", 3,
     [](const Beam& beam) { return times(beam.far_half_angle_rad, degrees); }},
    {"  theory (deg)", 3, [](const Beam& beam) { return times(beam.theory_half_angle_rad, degrees); }},
    {"  measured / theory", 4,
     [](const Beam& beam) { return ratio(beam.far_half_angle_rad, beam.theory_half_angle_rad); }},
};

constexpr Line pattern_lines[] = {
    {"angle of the main lobe (deg)", 2,
     [](const Beam& beam) { return std::optional(beam.pattern->angle_rad[beam.pattern->top] * degrees); }},
    {"its -6 dB width, measured (deg)", 3, [](const Beam& beam) { return pattern_width(beam.pattern); }},
    {"  theory (deg)", 3, [](const Beam& beam) { return pattern_width(beam.theory_pattern); }},
    {"  measured / theory", 4,
     [](const Beam& beam) { return ratio(pattern_width(beam.pattern), pattern_width(beam.theory_pattern)); }},
    {"peak side lobe, measured (dB)", 2, [](const Beam& beam) { return dB(beam.side_lobe); }},
    {"  position (deg)", 2, [](const Beam& beam) { return angle(beam.side_lobe); }},
    {"  theory (dB)", 2, [](const Beam& beam) { return dB(beam.theory_side_lobe); }},
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

/// Which aperture each formula belongs to, and where it is from, of those that were used.
std::string theory_notes(std::span<const Beam> beams) {
    const auto any = [&](auto test) { return std::ranges::any_of(beams, test); };
    std::string text;
    if (any([](const Beam& beam) { return is_disc(beam) && beam.near_zone_m; })) {
        text +=
            "  Near zone of a disc: D^2 / (4 lambda); its last maximum is exactly lambda / 4 before that (Kinsler et "
            "al.,\n"
            "  Fundamentals of Acoustics, 2000, sec. 7.4, from memory). In the far field half amplitude at sin(angle) "
            "=\n"
            "  0.705 lambda / D, two-way 0.514 (2 J1(x) / x).\n";
    }
    if (any([](const Beam& beam) { return !is_disc(beam) && beam.near_zone_m; })) {
        text +=
            "  Near zone of a long strip: 0.342 D^2 / lambda, by the Fresnel integrals (first maximum of |C + jS|); "
            "not\n"
            "  D^2 / (4 lambda), which belongs to a disc. It holds for a square too; where an array is lower than it "
            "is\n"
            "  wide, or has a lens, the last maximum lies elsewhere. In the far field half amplitude at sin(angle) =\n"
            "  0.603 lambda / D, two-way 0.443 (sin(x) / x).\n";
    }
    if (any([](const Beam& beam) { return beam.theory_focus_width_m.has_value(); })) {
        text +=
            "  Width in focus: lambda z / D times a constant of the weights' transform: equal weights 1.207, two-way "
            "0.886; "
            "a disc\n"
            "  1.410 and 1.029 (paraxial: 0.07 / F-number^2 more at low F-numbers, recomputed).\n";
    }
    if (any([](const Beam& beam) { return beam.near_zone_m && !beam.aperture.plain; })) {
        text +=
            "  These formulas are for equal weights and all elements at once. A focus lies within the near zone or "
            "hardly counts;\n"
            "  the fewer Fresnel zones the aperture holds, the farther in front of it the pressure peaks.\n";
    }
    if (any([](const Beam& beam) { return !beam.near_zone_m; })) {
        text += "  A curved face that fires at once transmits a diverging wave, for which there is no formula here.\n";
    }
    if (beams.front().view.pulsed) {
        text +=
            "  The formulas are for continuous waves; a pulse evens out the near zone and fills the nulls between "
            "lobes.\n";
    }
    return text;
}

/// A row for each grating lobe of each beam.
std::string grating_table(std::span<const Beam> beams) {
    std::vector<Row> rows{{"", "order", "theory (deg)", "measured (deg)", "level (dB)", "theory (dB)"}};
    for (std::size_t i = 0; i < beams.size(); ++i) {
        for (const GratingLobe& lobe : beams[i].gratings) {
            const bool far =
                lobe.angle_rad && beams[i].theory_pattern && !beams[i].pattern->distance_m && !beams[i].view.pulsed;
            rows.push_back(
                {std::string(1, letter(i)), std::to_string(lobe.order),
                 lobe.angle_rad ? fixed(*lobe.angle_rad * degrees, 2) : "beyond 90", fixed(angle(lobe.found), 2),
                 fixed(dB(lobe.found), 2),
                 fixed(far ? std::optional(20.0 * std::log10(std::max(lobe.level, 1e-12))) : std::nullopt, 2)});
        }
    }
    return rows.size() == 1 ? std::string() : aligned(rows, "  ");
}

std::string distance_words(const BeamPattern& pattern) {
    return pattern.distance_m ? "at " + in_mm(*pattern.distance_m) : std::string("in the far field");
}

std::string pattern_text(std::span<const Beam> beams) {
    std::string text = "Level against angle: ";
    for (std::size_t i = 0; i < beams.size(); ++i) {
        text += (i == 0 ? "" : ", ") + std::string(1, letter(i)) + " " + distance_words(*beams[i].pattern);
    }
    text += "\n\n" + table_of(pattern_lines, beams) + '\n';
    if (std::ranges::any_of(beams, [](const Beam& beam) { return beam.theory_pattern.has_value(); })) {
        text +=
            "  Theory: the array factor of the weights times the element factor, continuous wave, paraxial "
            "(rectangular\n"
            "  weights: side lobe -13.26 dB, two-way -26.52; a disc -17.57 and -35.14).\n";
    }
    const std::string gratings = grating_table(beams);
    if (!gratings.empty()) {
        text += "\n  Grating lobes: sin(angle) = sin(steering) + order x lambda / pitch\n" + gratings;
        if (beams.front().view.pulsed) {
            text +=
                "  A pulse of few periods cannot add up there over the whole aperture: about 0.94 / (B N) of the main "
                "lobe\n"
                "  for equal point elements, B the bandwidth of the path (von Ramm & Smith 1983, from memory).\n";
        } else if (std::ranges::any_of(beams, [](const Beam& beam) { return beam.pattern->distance_m.has_value(); })) {
            text += "  The delays do not focus there: near the array grating lobes are lower and broader.\n";
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

std::string depth_table(std::span<const Beam> beams) {
    Row head{"depth (mm)"};
    for (const char* quantity : {"pressure ", "-6 dB width (mm) "}) {
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

}  // namespace

std::string beam_text(std::span<const Beam> beams) {
    std::string text = beams_title(beams) + "\n\n";
    for (std::size_t i = 0; i < beams.size(); ++i) {
        text += std::string("  ") + letter(i) + "  " + described(beams[i]) + '\n';
    }
    text += '\n' + table_of(lines, beams) + '\n' + theory_notes(beams) + '\n';
    if (beams.front().pattern) {
        text += pattern_text(beams);
    }
    text += "  Along each beam's axis: pressure in " + pressure_unit(beams) + ", v being the velocity of the face,\n" +
            "  and -6 dB width, at half of the peak amplitude at that depth exactly.\n";
    if (std::ranges::any_of(beams, [](const Beam& beam) { return beam.path != BeamPath::transmit; })) {
        text +=
            "  A receive beam is, by reciprocity, what its elements would transmit with their weights; two-way is "
            "their\n"
            "  product.\n";
    }
    text += beams.front().view.plane == BeamPlane::elevation ? "  Widths are along elevation.\n\n" : "\n";
    return text + depth_table(beams) + '\n' + caution_of(true) + '\n';
}

}  // namespace echoloom
