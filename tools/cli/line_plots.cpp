#include "tools/cli/line_plots.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <set>
#include <string>

#include "recon/measure/plot.h"
#include "sim/base/text.h"

namespace echoloom {

namespace {

constexpr std::array<const char*, 4> names{"widths", "profiles_shallow", "profiles_middle", "profiles_deep"};

/// Depths, in whole micrometres, at which every image shows a true point.
std::vector<long> common_depths(std::span<const ImageReport> reports) {
    std::set<long> common;
    for (std::size_t i = 0; i < reports.size(); ++i) {
        std::set<long> found;
        for (const PointReport& point : reports[i].points) {
            if (point.measured.found) {
                found.insert(std::lround(point.measured.true_m.z() * 1e6));
            }
        }
        if (i == 0) {
            common = found;
        } else {
            std::erase_if(common, [&](long depth) { return !found.contains(depth); });
        }
    }
    return {common.begin(), common.end()};
}

}  // namespace

std::vector<std::filesystem::path> line_plot_files(const std::filesystem::path& folder) {
    std::vector<std::filesystem::path> files;
    for (const char* name : names) {
        for (const char* ending : {".csv", ".gp", ".png", ".svg"}) {
            files.push_back(folder / (std::string(name) + ending));
        }
    }
    return files;
}

std::vector<std::filesystem::path> draw_line_plots(std::span<const Image> images, std::span<const ImageReport> reports,
                                                   const std::filesystem::path& folder) {
    const std::vector<long> depths = common_depths(reports);
    if (depths.empty()) {
        return {};
    }
    std::vector<std::filesystem::path> drawn{plot_widths(reports, folder, names[0])};
    const std::array<long, 3> chosen{depths.front(), depths[depths.size() / 2], depths.back()};
    for (std::size_t n = 0; n < chosen.size() && n < depths.size(); ++n) {
        const double depth_m = static_cast<double>(chosen[n]) * 1e-6;
        std::vector<ProfileCurve> curves;
        for (std::size_t i = 0; i < images.size(); ++i) {
            if (auto curve = profile_at_depth(images[i], reports[i], depth_m)) {
                curves.push_back(std::move(*curve));
            }
        }
        drawn.push_back(plot_profiles(curves, folder, names[n + 1],
                                      "Lateral profile of the point at " + plain(depth_m * 1e3) + " mm"));
    }
    return drawn;
}

}  // namespace echoloom
