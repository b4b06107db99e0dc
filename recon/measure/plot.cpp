#include "recon/measure/plot.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <fstream>
#include <limits>
#include <map>
#include <sstream>

#include "recon/measure/csv.h"
#include "recon/measure/gnuplot.h"
#include "sim/base/atomic_file.h"
#include "sim/base/error.h"
#include "sim/base/shipped.h"
#include "sim/base/text.h"

namespace echoloom {
namespace {

constexpr std::size_t most_curves = 8;
/// Widths that differ by more than this factor go on a logarithmic axis.
constexpr double logarithmic_from = 6.0;
/// A profile is drawn this many half-amplitude widths of the widest curve to either side.
constexpr double profile_widths = 4.0;
constexpr int profile_upsampling = 8;

std::string caption(const ImageReport& image) {
    return image.title.empty() ? image.recipe : image.title;
}

/// Curve names as gnuplot's word() takes them apart.
std::string names_word(const std::vector<std::string>& names) {
    std::string words;
    for (std::string name : names) {
        std::replace(name.begin(), name.end(), '"', '\'');
        words += (words.empty() ? "\"" : " \"") + name + "\"";
    }
    return gnuplot_quoted(words);
}

std::string read_template(const std::string& name) {
    const auto path = home_folder() / "tools" / "plots" / name;
    std::ifstream file(path);
    std::ostringstream text;
    if (!file || !(text << file.rdbuf())) {
        throw MachineError(path.string() + ": cannot be read; it belongs to the program's own files");
    }
    return text.str();
}

void write_text(const std::filesystem::path& path, const std::string& text) {
    write_file(path, text);
}

/// One plot as files: numbers, script, and pictures once gnuplot has drawn them.
struct PlotFiles {
    std::filesystem::path folder;
    std::string name;

    std::filesystem::path file(const std::string& ending) const { return folder / (name + ending); }
};

/// The script is the settings of this plot followed by the shipped script, so it can be restyled and run by itself.
void write_script(const PlotFiles& files, const std::string& settings, const std::string& shipped) {
    const std::string own = "# " + files.name + ".gp: run `gnuplot " + files.name +
                            ".gp` in this folder after a change.\n" + "csv = " + gnuplot_quoted(files.name + ".csv") +
                            "\n" + "if (!exists(\"png_file\")) png_file = " + gnuplot_quoted(files.name + ".png") +
                            "\n" + "if (!exists(\"svg_file\")) svg_file = " + gnuplot_quoted(files.name + ".svg") +
                            "\n" + settings + "\n";
    write_text(files.file(".gp"), own + read_template(shipped));
}

std::filesystem::path draw(const PlotFiles& files) {
    AtomicFile png(files.file(".png"));
    AtomicFile svg(files.file(".svg"));
    const auto whole = [](const AtomicFile& file) {
        return gnuplot_quoted(std::filesystem::absolute(file.temporary()).string());
    };
    run_gnuplot(files.file(".gp"), "png_file=" + whole(png) + "; svg_file=" + whole(svg));
    png.commit();
    svg.commit();
    return files.file(".png");
}

void check_count(std::size_t count) {
    if (count == 0) throw InputError("nothing to plot: no image was given");
    if (count > most_curves) {
        throw InputError("a plot holds at most 8 curves; " + std::to_string(count) + " were given");
    }
}

/// Of the points of each depth, the one nearest x = 0.
std::map<double, const PointReport*> central_points(const ImageReport& image) {
    std::map<double, const PointReport*> central;
    for (const PointReport& point : image.points) {
        const PointReport*& chosen = central[point.measured.true_m.z()];
        if (!chosen || std::abs(point.measured.true_m.x()) < std::abs(chosen->measured.true_m.x())) chosen = &point;
    }
    return central;
}

/// Measured and predicted width of one image at one depth, in mm; missing where there is none.
using WidthPair = std::array<std::optional<double>, 2>;

/// By depth in mm: the points, and between them the predicted curves.
std::map<double, std::vector<WidthPair>> widths_by_depth(std::span<const ImageReport> images) {
    std::map<double, std::vector<WidthPair>> rows;
    const auto row_at = [&](double depth_m) -> std::vector<WidthPair>& {
        auto& row = rows[std::round(depth_m * 1e6) * 1e-3];
        row.resize(images.size());
        return row;
    };
    for (std::size_t n = 0; n < images.size(); ++n) {
        for (const auto& [depth, width] : images[n].predicted_curve_m) row_at(depth)[n][1] = width * 1e3;
        for (const auto& [depth, point] : central_points(images[n])) {
            auto& pair = row_at(depth)[n];
            if (point->measured.lateral_half.width_m) pair[0] = *point->measured.lateral_half.width_m * 1e3;
            if (point->measured.found && point->predicted_lateral_half_m)
                pair[1] = *point->predicted_lateral_half_m * 1e3;
        }
    }
    return rows;
}

/// Axes of the plot of widths, as settings of its script.
std::string width_axes(const std::map<double, std::vector<WidthPair>>& rows) {
    double least = std::numeric_limits<double>::infinity(), most = 0.0;
    for (const auto& [depth, row] : rows) {
        for (const WidthPair& pair : row) {
            for (const auto& width : pair) {
                least = std::min(least, width.value_or(least));
                most = std::max(most, width.value_or(most));
            }
        }
    }
    if (!(most > 0.0)) return "log_width = 0\n";
    const bool logarithmic = most > logarithmic_from * least;
    const double margin = 0.04 * (rows.rbegin()->first - rows.begin()->first);
    std::string settings = std::string("log_width = ") + (logarithmic ? "1" : "0") + "\n";
    settings += "set yrange [" + csv_number(logarithmic ? 0.8 * least : 0.0) + ":" +
                csv_number(logarithmic ? 1.3 * most : 1.1 * most) + "]\n";
    if (margin > 0.0) {
        settings += "set xrange [" + csv_number(std::max(0.0, rows.begin()->first - margin)) + ":" +
                    csv_number(rows.rbegin()->first + margin) + "]\n";
    }
    return settings;
}

/// Legend columns that fit the page.
std::string key_columns(const std::vector<std::string>& names) {
    std::size_t longest = 0;
    for (const std::string& name : names) longest = std::max(longest, name.size());
    return std::string("key_columns = ") + (longest <= 18 ? "3" : longest <= 36 ? "2" : "1") + "\n";
}

/// Sample of the highest amplitude.
std::size_t highest(const Profile& profile) {
    return static_cast<std::size_t>(std::max_element(profile.amplitude.begin(), profile.amplitude.end()) -
                                    profile.amplitude.begin());
}

/// Wide enough for all that stands above -40 dB, but not for more than a few widths of the widest curve.
double half_range_mm(std::span<const ProfileCurve> curves) {
    double widest = 0.0, loud = 0.0, reach = 0.0;
    for (const auto& [title, profile] : curves) {
        const std::size_t peak = highest(profile);
        const auto width = width_at_level(profile, static_cast<double>(peak), 0.5);
        widest = std::max(widest, width.width_m.value_or(0.0));
        for (std::size_t n = 0; n < profile.amplitude.size(); ++n) {
            const double distance = std::abs(profile.position_m[n]);
            reach = std::max(reach, distance);
            if (profile.amplitude[n] > 0.01 * profile.amplitude[peak]) loud = std::max(loud, distance);
        }
    }
    const double cap = widest > 0.0 ? std::min(reach, profile_widths * widest) : reach;
    return 1e3 * std::min(cap, 1.2 * loud);
}

}  // namespace

std::filesystem::path plot_widths(std::span<const ImageReport> images, const std::filesystem::path& folder,
                                  const std::string& name, const std::string& title) {
    check_count(images.size());
    const PlotFiles files{folder, name};
    std::string csv = "depth_mm";
    std::vector<std::string> names;
    for (const ImageReport& image : images) {
        names.push_back(caption(image));
        for (const char* column : {": measured_mm", ": predicted_mm"}) {
            csv.append(",").append(csv_word(caption(image) + column));
        }
    }
    csv += "\n";
    const auto rows = widths_by_depth(images);
    for (const auto& [depth, row] : rows) {
        csv += csv_number(depth);
        for (const WidthPair& pair : row) {
            for (const auto& value : pair) csv.append(",").append(csv_number(value));
        }
        csv += "\n";
    }
    write_text(files.file(".csv"), csv);
    write_script(files,
                 "curves = " + std::to_string(images.size()) + "\nnames = " + names_word(names) +
                     "\nplot_title = " + gnuplot_quoted(title) + "\n" + width_axes(rows) + key_columns(names),
                 "widths.gp");
    return draw(files);
}

std::filesystem::path plot_profiles(std::span<const ProfileCurve> curves, const std::filesystem::path& folder,
                                    const std::string& name, const std::string& title, double least_dB) {
    check_count(curves.size());
    const PlotFiles files{folder, name};
    std::string csv;
    std::vector<std::string> names;
    std::vector<std::vector<double>> levels;
    std::size_t longest = 0;
    for (const ProfileCurve& curve : curves) {
        names.push_back(curve.title);
        csv.append(csv.empty() ? "" : ",").append(csv_word(curve.title + ": position_mm"));
        csv.append(",").append(csv_word(curve.title + ": level_dB"));
        levels.push_back(level_dB(curve.profile.amplitude, curve.profile.amplitude[highest(curve.profile)]));
        longest = std::max(longest, levels.back().size());
    }
    csv += "\n";
    for (std::size_t n = 0; n < longest; ++n) {
        for (std::size_t c = 0; c < curves.size(); ++c) {
            if (c > 0) csv += ",";
            csv += n < levels[c].size()
                       ? csv_number(curves[c].profile.position_m[n] * 1e3) + "," + csv_number(levels[c][n])
                       : ",";
        }
        csv += "\n";
    }
    write_text(files.file(".csv"), csv);
    write_script(files,
                 "curves = " + std::to_string(curves.size()) + "\nnames = " + names_word(names) +
                     "\nplot_title = " + gnuplot_quoted(title) + "\nleast_dB = " + csv_number(least_dB) +
                     "\nhalf_range_mm = " + csv_number(half_range_mm(curves)) + "\n" + key_columns(names),
                 "profiles.gp");
    return draw(files);
}

std::optional<ProfileCurve> profile_at_depth(const Image& image, const ImageReport& report, double depth_m) {
    const PointMeasurement* chosen = nullptr;
    const auto distance = [&](const PointMeasurement& point) {
        return std::pair(std::abs(point.true_m.z() - depth_m), std::abs(point.true_m.x()));
    };
    for (const PointReport& point : report.points) {
        if (point.measured.found && (!chosen || distance(point.measured) < distance(*chosen))) {
            chosen = &point.measured;
        }
    }
    if (!chosen) return std::nullopt;
    return ProfileCurve{caption(report), lateral_profile(image, *chosen, profile_upsampling)};
}

}  // namespace echoloom
