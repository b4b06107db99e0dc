#include "recon/measure/plot.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <map>

#include "recon/measure/csv.h"
#include "recon/measure/plot_files.h"
#include "sim/base/atomic_file.h"
#include "sim/base/error.h"

namespace echoloom {
namespace {

constexpr std::size_t max_curves = 8;
/// Widths that differ by more than this factor go on a logarithmic axis.
constexpr double logarithmic_from = 6.0;
/// A profile is drawn to this many -6 dB widths of the widest curve on either side ...
constexpr double profile_widths = 5.0;
/// ... but no farther than this, nor than half way to the next point if that is at least so many widths.
constexpr double max_half_range_m = 10e-3;
constexpr double min_profile_widths = 3.0;
constexpr int profile_upsampling = 8;

void check_count(std::size_t count) {
    if (count == 0) throw InputError("nothing to plot: no image was given");
    if (count > max_curves) {
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

/// Of one image at one depth, in mm: measured width, predicted width, and a measured one of fewer than 3 pixels.
using Widths = std::array<std::optional<double>, 3>;

/// By depth in mm: the points, and between them the predicted curves.
std::map<double, std::vector<Widths>> widths_by_depth(std::span<const ImageReport> images) {
    std::map<double, std::vector<Widths>> rows;
    const auto row_at = [&](double depth_m) -> std::vector<Widths>& {
        auto& row = rows[std::round(depth_m * 1e6) * 1e-3];
        row.resize(images.size());
        return row;
    };
    for (std::size_t n = 0; n < images.size(); ++n) {
        for (const auto& [depth, width] : images[n].predicted_curve_m) row_at(depth)[n][1] = width * 1e3;
        for (const auto& [depth, point] : central_points(images[n])) {
            auto& here = row_at(depth)[n];
            const LevelWidth& measured = point->measured.lateral_6dB;
            if (measured.width_m) here[measured.coarse() ? 2 : 0] = *measured.width_m * 1e3;
            if (point->measured.found && point->predicted_lateral_6dB_m) {
                here[1] = *point->predicted_lateral_6dB_m * 1e3;
            }
        }
    }
    return rows;
}

/// Axes of the plot of widths, as settings of its script.
std::string width_axes(const std::map<double, std::vector<Widths>>& rows) {
    double lowest = std::numeric_limits<double>::infinity(), highest = 0.0;
    for (const auto& [depth, row] : rows) {
        for (const Widths& widths : row) {
            for (const auto& width : widths) {
                lowest = std::min(lowest, width.value_or(lowest));
                highest = std::max(highest, width.value_or(highest));
            }
        }
    }
    if (!(highest > 0.0)) return "log_width = 0\n";
    const bool logarithmic = highest > logarithmic_from * lowest;
    const double margin = 0.04 * (rows.rbegin()->first - rows.begin()->first);
    std::string settings = std::string("log_width = ") + (logarithmic ? "1" : "0") + "\n";
    settings += "set yrange [" + csv_number(logarithmic ? 0.8 * lowest : 0.0) + ":" +
                csv_number(logarithmic ? 1.3 * highest : 1.1 * highest) + "]\n";
    if (margin > 0.0) {
        settings += "set xrange [" + csv_number(std::max(0.0, rows.begin()->first - margin)) + ":" +
                    csv_number(rows.rbegin()->first + margin) + "]\n";
    }
    return settings;
}

/// Sample of the highest amplitude.
std::size_t peak_index(const Profile& profile) {
    return static_cast<std::size_t>(std::max_element(profile.amplitude.begin(), profile.amplitude.end()) -
                                    profile.amplitude.begin());
}

bool any_coarse(const std::map<double, std::vector<Widths>>& rows) {
    return std::any_of(rows.begin(), rows.end(), [](const auto& row) {
        return std::any_of(row.second.begin(), row.second.end(), [](const Widths& widths) { return widths[2]; });
    });
}

/// Position in mm and level in dB of each, side by side; the shorter ones end in empty cells.
std::string profile_rows(const std::vector<const Profile*>& profiles) {
    std::vector<std::vector<double>> levels;
    std::size_t longest = 0;
    for (const Profile* profile : profiles) {
        levels.push_back(profile->amplitude.empty()
                             ? std::vector<double>{}
                             : level_dB(profile->amplitude, profile->amplitude[peak_index(*profile)]));
        longest = std::max(longest, levels.back().size());
    }
    std::string rows;
    for (std::size_t n = 0; n < longest; ++n) {
        for (std::size_t c = 0; c < profiles.size(); ++c) {
            if (c > 0) rows += ",";
            rows += n < levels[c].size() ? csv_number(profiles[c]->position_m[n] * 1e3) + "," + csv_number(levels[c][n])
                                         : ",";
        }
        rows += "\n";
    }
    return rows;
}

/// Of the widest curve.
double half_amplitude_width_m(std::span<const ProfileCurve> curves) {
    double widest = 0.0;
    for (const auto& [title, profile, predicted] : curves) {
        const auto width = width_at_level(profile, static_cast<double>(peak_index(profile)), 0.5);
        widest = std::max(widest, width.width_m.value_or(0.0));
    }
    return widest;
}

}  // namespace

std::filesystem::path plot_widths(std::span<const ImageReport> images, const std::filesystem::path& folder,
                                  const std::string& name, const std::string& title) {
    check_count(images.size());
    const PlotFiles files{folder, name};
    std::string csv = "depth_mm";
    std::vector<std::string> names;
    for (const ImageReport& image : images) {
        names.push_back(image.label);
        for (const char* column : {": measured_mm", ": predicted_mm", ": measured_below_3_pixels_mm"}) {
            csv.append(",").append(csv_word(image.label + column));
        }
    }
    csv += "\n";
    const auto rows = widths_by_depth(images);
    for (const auto& [depth, row] : rows) {
        csv += csv_number(depth);
        for (const Widths& widths : row) {
            for (const auto& value : widths) csv.append(",").append(csv_number(value));
        }
        csv += "\n";
    }
    write_file(files.file(".csv"), csv);
    const std::string hollow = any_coarse(rows) ? "hollow = 1\n" : "";
    write_script(files, script_words(names, title, plot_footer(images)) + width_axes(rows) + hollow, "widths.gp");
    return draw(files);
}

std::filesystem::path plot_profiles(std::span<const ProfileCurve> curves, const std::filesystem::path& folder,
                                    const std::string& name, const ProfileText& text, double half_range_m,
                                    double min_dB) {
    check_count(curves.size());
    const PlotFiles files{folder, name};
    std::string csv;
    std::vector<std::string> names;
    std::vector<const Profile*> profiles;
    for (const ProfileCurve& curve : curves) {
        names.push_back(curve.title);
        profiles.push_back(&curve.profile);
        csv.append(csv.empty() ? "" : ",").append(csv_word(curve.title + ": position_mm"));
        csv.append(",").append(csv_word(curve.title + ": level_dB"));
    }
    const bool predicted =
        std::ranges::any_of(curves, [](const ProfileCurve& curve) { return curve.predicted.amplitude.size() > 2; });
    for (const ProfileCurve& curve : curves) {
        if (!predicted) break;
        profiles.push_back(&curve.predicted);
        csv.append(",").append(csv_word(curve.title + ": predicted_position_mm"));
        csv.append(",").append(csv_word(curve.title + ": predicted_level_dB"));
    }
    csv += "\n" + profile_rows(profiles);
    write_file(files.file(".csv"), csv);
    write_script(files,
                 script_words(names, text.title, text.footer) + "min_dB = " + csv_number(min_dB) +
                     "\nhalf_range_mm = " + csv_number(half_range_m * 1e3) + "\n" +
                     (predicted ? "predicted = 1\n" : ""),
                 "profiles.gp");
    return draw(files);
}

std::optional<ProfileCurve> profile_of_point(const Image& image, const ImageReport& report, const Vec3& true_m) {
    constexpr double same_place_m = 1e-6;
    for (const PointReport& point : report.points) {
        if (point.measured.found && (point.measured.true_m - true_m).norm() < same_place_m) {
            return ProfileCurve{report.label, lateral_profile(image, point.measured, profile_upsampling),
                                upsampled(point.predicted_lateral, profile_upsampling)};
        }
    }
    return std::nullopt;
}

double profile_half_range_m(std::span<const ProfileCurve> curves, const Vec3& true_m,
                            std::span<const TruePoint> others) {
    const double width_m = half_amplitude_width_m(curves);
    double range_m = width_m > 0.0 ? std::min(profile_widths * width_m, max_half_range_m) : max_half_range_m;
    for (const TruePoint& other : others) {
        const Vec3 away = other.position_m - true_m;
        const bool beside = std::abs(away.x()) > 2.0 * std::abs(away.z());
        const double half_way_m = 0.5 * std::abs(away.x());
        if (beside && half_way_m >= min_profile_widths * width_m) range_m = std::min(range_m, half_way_m);
    }
    return range_m;
}

std::string plot_footer(std::span<const ImageReport> images) {
    const std::string& first = images.front().provenance;
    const bool shared =
        std::all_of(images.begin(), images.end(), [&](const ImageReport& image) { return image.provenance == first; });
    return shared ? first : first.substr(first.find('\n') + 1);
}

}  // namespace echoloom
