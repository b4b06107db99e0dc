#include "tools/cli/line_plots.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <string>

#include "recon/measure/plot.h"
#include "recon/measure/section_plot.h"
#include "sim/base/text.h"

namespace echoloom {

namespace {

constexpr std::array<const char*, 4> names{"widths", "profiles_shallow", "profiles_middle", "profiles_deep"};

/// By depth in whole micrometres, the point nearest x = 0 among the true points that every image shows.
std::map<long, Vec3> common_points(std::span<const ImageReport> reports) {
    std::map<long, Vec3> chosen;
    for (const PointReport& candidate : reports.front().points) {
        const Vec3& place = candidate.measured.true_m;
        const bool common = std::ranges::all_of(reports, [&](const ImageReport& report) {
            return std::ranges::any_of(report.points, [&](const PointReport& point) {
                return point.measured.found && (point.measured.true_m - place).norm() < 1e-6;
            });
        });
        if (common) {
            const auto [there, added] = chosen.try_emplace(std::lround(place.z() * 1e6), place);
            if (!added && std::abs(place.x()) < std::abs(there->second.x())) {
                there->second = place;
            }
        }
    }
    return chosen;
}

std::string in_mm(double length_m) {
    return plain(std::round(length_m * 1e5) / 1e2) + " mm";
}

}  // namespace

std::vector<std::filesystem::path> line_plot_files(const std::filesystem::path& folder, bool sections) {
    std::vector<std::filesystem::path> files;
    std::vector<const char*> all(names.begin(), names.end());
    if (sections) {
        all.insert(all.end(), {"contrast", "speckle_size", "side_lobes"});
    }
    for (const char* name : all) {
        for (const char* ending : {".csv", ".gp", ".png", ".svg"}) {
            files.push_back(folder / (std::string(name) + ending));
        }
    }
    return files;
}

std::vector<std::filesystem::path> draw_line_plots(std::span<const Image> images, std::span<const ImageReport> reports,
                                                   const std::filesystem::path& folder) {
    const std::map<long, Vec3> points = common_points(reports);
    std::vector<std::filesystem::path> drawn;
    if (points.size() > 1) {  // one depth is no curve
        drawn.push_back(plot_widths(reports, folder, names[0]));
    }
    std::vector<Vec3> places;
    for (const auto& [depth, place] : points) {
        places.push_back(place);
    }
    if (places.size() > 3) {
        places = {places.front(), places[places.size() / 2], places.back()};
    }
    for (std::size_t n = 0; n < places.size(); ++n) {
        std::vector<ProfileCurve> curves;
        for (std::size_t i = 0; i < images.size(); ++i) {
            if (auto curve = profile_of_point(images[i], reports[i], places[n])) {
                curves.push_back(std::move(*curve));
            }
        }
        const ProfileText words{
            "Lateral profile of the point at x = " + in_mm(places[n].x()) + ", " + in_mm(places[n].z()) + " deep",
            plot_footer(reports)};
        const double half_range_m = profile_half_range_m(curves, places[n], images.front().recording.truth.points);
        drawn.push_back(plot_profiles(curves, folder, names[n + 1], words, half_range_m));
    }
    return drawn;
}

std::vector<std::filesystem::path> draw_section_plots(std::span<const ImageReport> reports,
                                                      const std::filesystem::path& folder) {
    std::vector<std::filesystem::path> drawn;
    for (const auto& plot :
         {plot_contrast(reports, folder), plot_speckle_sizes(reports, folder), plot_side_lobes(reports, folder)}) {
        if (plot) {
            drawn.push_back(*plot);
        }
    }
    return drawn;
}

}  // namespace echoloom
