#pragma once
/// Line plots by gnuplot. Each plot leaves four files: NAME.csv (the numbers), NAME.gp (a script that needs only the
/// CSV beside it, for whoever wants to restyle the plot), NAME.png and NAME.svg.

#include <filesystem>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "recon/measure/report.h"

namespace echoloom {

/// Lateral half-amplitude width against depth, one set of marks per image (at most 8), the prediction a dashed curve in
/// the same hue. Where a depth holds several points, the one nearest x = 0 is drawn. Returns the PNG's path. Throws
/// MachineError where gnuplot is missing (Debian package gnuplot-nox) or fails; CSV and script are written all the
/// same.
std::filesystem::path plot_widths(std::span<const ImageReport> images, const std::filesystem::path& folder,
                                  const std::string& name = "widths",
                                  const std::string& title = "Lateral width of a point against its depth");

/// One curve of plot_profiles.
struct ProfileCurve {
    std::string title;
    Profile profile;  ///< drawn in dB against its own peak
};

/// Lateral profiles in dB against mm, at most 8 curves. Levels below `least_dB` are cut off.
std::filesystem::path plot_profiles(std::span<const ProfileCurve> curves, const std::filesystem::path& folder,
                                    const std::string& name, const std::string& title, double least_dB = -60.0);

/// The lateral profile of an image through the true point that was found nearest `depth_m` (and to x = 0); nothing
/// where none was found. `report` is that image's own.
std::optional<ProfileCurve> profile_at_depth(const Image& image, const ImageReport& report, double depth_m);

}  // namespace echoloom
