#pragma once
/// Line plots by gnuplot. Each plot leaves four files: NAME.csv (the numbers), NAME.gp (a script that needs only the
/// CSV beside it, to restyle the plot), NAME.png and NAME.svg.

#include <filesystem>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "recon/measure/report.h"

namespace echoloom {

/// Lateral -6 dB width against depth, one set of marks per image (at most 8), the prediction a dashed curve in the same
/// hue. Where several points lie at one depth, the one nearest x = 0 is drawn; a width of fewer than 3 pixels is drawn
/// hollow. Curves are named by ImageReport::label. Returns the PNG's path. Throws MachineError where gnuplot is
/// missing (Debian package gnuplot-nox) or fails; CSV and script are written all the same.
std::filesystem::path plot_widths(std::span<const ImageReport> images, const std::filesystem::path& folder,
                                  const std::string& name = "widths",
                                  const std::string& title = "Lateral -6 dB width of points against depth");

/// One curve of plot_profiles.
struct ProfileCurve {
    std::string title;
    Profile profile;         ///< drawn in dB against its own peak
    Profile predicted = {};  ///< the predicted one, dashed; may be empty
};

struct ProfileText {
    std::string title;
    std::string footer;  ///< below the plot; may be empty
};

/// Lateral profiles in dB against mm, at most 8 curves, to `half_range_m` on either side. Levels below `min_dB` are cut
/// off.
std::filesystem::path plot_profiles(std::span<const ProfileCurve> curves, const std::filesystem::path& folder,
                                    const std::string& name, const ProfileText& text, double half_range_m,
                                    double min_dB = -60.0);

/// The lateral profile of an image through the true point at `true_m`; nothing where it was not measured. `report` is
/// that image's own.
std::optional<ProfileCurve> profile_of_point(const Image& image, const ImageReport& report, const Vec3& true_m);

/// How far to draw a point's profile to either side: 5 times the largest -6 dB width of the curves, at most 10 mm, and
/// no farther than half way to the nearest of `others` beside the point, unless that leaves fewer than 3 widths.
double profile_half_range_m(std::span<const ProfileCurve> curves, const Vec3& true_m,
                            std::span<const TruePoint> others);

/// The footer of a plot of several images: ImageReport::provenance where they share it, otherwise its caution.
std::string plot_footer(std::span<const ImageReport> images);

}  // namespace echoloom
