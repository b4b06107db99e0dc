// Pressure on the axis and beam width against depth, by gnuplot.

#include <algorithm>
#include <cmath>
#include <numbers>

#include "recon/measure/csv.h"
#include "recon/measure/gnuplot.h"
#include "recon/measure/plot_files.h"
#include "sim/base/atomic_file.h"
#include "sim/base/text.h"
#include "tools/cli/beam.h"
#include "tools/cli/output.h"

namespace echoloom {

namespace {

constexpr double mm = 1e-3;

PlotFiles plot_files(const std::filesystem::path& png) {
    return {png.parent_path(), png.stem().string()};
}

/// Near zones by theory as a gnuplot array, 0 where there is none.
std::string near_zones(std::span<const Beam> beams) {
    std::string list;
    for (const Beam& beam : beams) {
        list += (list.empty() ? "" : ", ") + csv_number(beam.near_zone_m.value_or(0.0) / mm);
    }
    return "array near_zone[" + std::to_string(beams.size()) + "] = [" + list + "]\n";
}

/// "disc_10mm: near zone 48.7 mm, half angle 2.07 deg": a beam in the legend.
std::string legend(const Beam& beam) {
    std::string words = beam.name;
    if (beam.near_zone_m) {
        words += ": near zone " + plain(std::round(*beam.near_zone_m / mm * 10.0) / 10.0) + " mm";
    }
    if (beam.far_half_angle_rad) {
        const double degrees = *beam.far_half_angle_rad * 180.0 / std::numbers::pi;
        words += std::string(beam.near_zone_m ? "," : ":") + " half angle " +
                 plain(std::round(degrees * 100.0) / 100.0) + "\u00b0";
    }
    return words;
}

/// Greek and raised signs, which a plot has.
std::string for_plot(std::string unit) {
    const std::pair<std::string, std::string> signs[] = {{"rho", "\u03c1"}, {"^2", "\u00b2"}};
    for (const auto& [sign, better] : signs) {
        for (std::size_t place = 0; (place = unit.find(sign, place)) != std::string::npos;) {
            unit.replace(place, sign.size(), better);
        }
    }
    return unit;
}

std::string numbers(std::span<const Beam> beams) {
    std::string csv = "depth_mm";
    for (const Beam& beam : beams) {
        for (const std::string& column : {pressure_column(beam), std::string("width_6dB_mm")}) {
            csv += ',' + csv_word(beam.name + ": " + column);
        }
    }
    csv += '\n';
    const std::vector<double>& depths = beams.front().depth_m;
    for (std::size_t i = 0; i < depths.size(); ++i) {
        csv += csv_number(depths[i] / mm);
        for (const Beam& beam : beams) {
            csv += ',' + csv_number(beam.pressure[i]) + ',';
            csv += beam.edges[i] ? csv_number(beam.edges[i]->width_m() / mm) : "";
        }
        csv += '\n';
    }
    return csv;
}

}  // namespace

std::string beams_title(std::span<const Beam> beams) {
    const bool alike = std::ranges::all_of(beams, [&](const Beam& beam) { return beam.path == beams[0].path; });
    return (alike ? path_title(beams[0].path) + " beams, " : std::string("Beams, ")) + wave_words(beams[0].view);
}

std::vector<std::filesystem::path> beam_plot_files(const std::filesystem::path& png) {
    std::vector<std::filesystem::path> files;
    for (const char* ending : {".csv", ".gp", ".png", ".svg"}) {
        files.push_back(plot_files(png).file(ending));
    }
    return files;
}

void draw_beam_curves(std::span<const Beam> beams, const std::filesystem::path& png) {
    const PlotFiles files = plot_files(png);
    write_file(files.file(".csv"), numbers(beams));
    std::vector<std::string> names;
    for (const Beam& beam : beams) {
        names.push_back(legend(beam));
    }
    const bool unfocused = std::ranges::all_of(beams, [](const Beam& beam) { return beam.view.unfocused; });
    const std::string title = beams_title(beams) + (unfocused ? ", without a focus" : "");
    write_script(files,
                 script_words(names, title, caution_of(true)) + near_zones(beams) +
                     "pressure_unit = " + gnuplot_quoted(for_plot(pressure_unit(beams))) +
                     "\nmax_depth_mm = " + csv_number(beams.front().depth_m.back() / mm) + "\n",
                 "beam.gp");
    draw(files);
}

}  // namespace echoloom
