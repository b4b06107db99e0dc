// Level against angle with theory and grating lobes, by gnuplot.

#include <algorithm>
#include <cmath>
#include <numbers>

#include "recon/measure/csv.h"
#include "recon/measure/plot_files.h"
#include "sim/base/atomic_file.h"
#include "sim/base/text.h"
#include "tools/cli/beam.h"
#include "tools/cli/output.h"

namespace echoloom {

namespace {

constexpr double mm = 1e-3;
constexpr double degrees = 180.0 / std::numbers::pi;
constexpr double floor_dB = -120.0;  ///< of what is written

double level_dB(const BeamPattern& pattern, std::size_t i) {
    return std::max(floor_dB, 20.0 * std::log10(std::max(pattern.level(i), 1e-12)));
}

/// Blocks one below the other, since each beam has angles of its own: beam, angle, level, theory.
std::string numbers(std::span<const Beam> beams) {
    std::string csv = "beam,angle_deg,level_dB,theory_dB\n";
    for (std::size_t b = 0; b < beams.size(); ++b) {
        const BeamPattern& pattern = *beams[b].pattern;
        for (std::size_t i = 0; i < pattern.angle_rad.size(); ++i) {
            csv += std::to_string(b + 1) + ',' + csv_number(pattern.angle_rad[i] * degrees) + ',' +
                   csv_number(level_dB(pattern, i)) + ',' +
                   (beams[b].theory_pattern ? csv_number(level_dB(*beams[b].theory_pattern, i)) : std::string()) + '\n';
        }
    }
    return csv;
}

std::string legend(const Beam& beam) {
    std::string words = beam.name;
    words += beam.pattern->distance_m ? " at " + plain(std::round(*beam.pattern->distance_m / mm * 10.0) / 10.0) + " mm"
                                      : std::string(", far field");
    if (beam.side_lobe) {
        words += ": peak side lobe " + plain(std::round(200.0 * std::log10(beam.side_lobe->level)) / 10.0) + " dB";
    }
    return words;
}

std::string gnuplot_array(const std::string& name, const std::vector<double>& values) {
    std::string list;
    for (const double value : values) {
        list += (list.empty() ? "" : ", ") + csv_number(value);
    }
    return "array " + name + "[" + std::to_string(std::max<std::size_t>(values.size(), 1)) + "] = [" +
           (list.empty() ? "0" : list) + "]\n";
}

/// Grating lobes of all beams by theory, each once.
std::vector<double> marks(std::span<const Beam> beams) {
    std::vector<double> angles;
    for (const Beam& beam : beams) {
        for (const GratingLobe& lobe : beam.gratings) {
            if (!lobe.angle_rad) {
                continue;
            }
            const double angle = *lobe.angle_rad * degrees;
            if (std::ranges::none_of(angles, [&](double other) { return std::abs(other - angle) < 0.01; })) {
                angles.push_back(angle);
            }
        }
    }
    return angles;
}

/// A grating lobe may stand above the main one.
double top_dB(std::span<const Beam> beams) {
    double highest = 3.0;
    for (const Beam& beam : beams) {
        for (std::size_t i = 0; i < beam.pattern->amplitude.size(); ++i) {
            highest = std::max(highest, std::ceil(level_dB(*beam.pattern, i) + 1.0));
        }
    }
    return highest;
}

}  // namespace

void draw_beam_patterns(std::span<const Beam> beams, const std::filesystem::path& png) {
    const PlotFiles files{png.parent_path(), png.stem().string()};
    write_file(files.file(".csv"), numbers(beams));
    std::vector<std::string> names;
    std::vector<double> has_theory;
    for (const Beam& beam : beams) {
        names.push_back(legend(beam));
        has_theory.push_back(beam.theory_pattern ? 1.0 : 0.0);
    }
    const std::vector<double> angles = marks(beams);
    const bool upright = beams.front().view.plane == BeamPlane::elevation;
    const bool two_way = std::ranges::any_of(beams, [](const Beam& beam) { return beam.path == BeamPath::two_way; });
    write_script(
        files,
        script_words(names, beams_title(beams), caution_of(true)) + gnuplot_array("has_theory", has_theory) +
            gnuplot_array("grating_deg", angles) + "gratings = " + std::to_string(angles.size()) +
            "\nangle_name = " + (upright ? "'elevation angle (degrees)'" : "'angle from broadside (degrees)'") +
            "\nmin_dB = " + (two_way ? "-80" : "-60") + "\nmax_dB = " + csv_number(top_dB(beams)) + "\n",
        "pattern.gp");
    draw(files);
}

}  // namespace echoloom
