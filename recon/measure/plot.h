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
/// the same hue. Where a depth holds several points, the one nearest x = 0 is drawn; a width of fewer than 3 pixels is
/// drawn hollow. Curves are named by ImageReport::label. Returns the PNG's path. Throws MachineError where gnuplot is
/// missing (Debian package gnuplot-nox) or fails; CSV and script are written all the same.
std::filesystem::path plot_widths(std::span<const ImageReport> images, const std::filesystem::path& folder,
                                  const std::string& name = "widths",
                                  const std::string& title = "Lateral width of a point against its depth");

/// One curve of plot_profiles.
struct ProfileCurve {
    std::string title;
    Profile profile;         ///< drawn in dB against its own peak
    Profile predicted = {};  ///< the same of theory, dashed; may be empty
};

struct ProfileWords {
    std::string title;
    std::string footer;  ///< below the plot; may be empty
};

/// Lateral profiles in dB against mm, at most 8 curves, as far as `half_range_m` to either side. Levels below
/// `min_dB` are cut off.
std::filesystem::path plot_profiles(std::span<const ProfileCurve> curves, const std::filesystem::path& folder,
                                    const std::string& name, const ProfileWords& words, double half_range_m,
                                    double min_dB = -60.0);

/// The lateral profile of an image through the true point at `true_m`; nothing where it was not found. `report` is that
/// image's own.
std::optional<ProfileCurve> profile_of_point(const Image& image, const ImageReport& report, const Vec3& true_m);

/// How far a point's profile is worth drawing to either side: 5 of the widest half-amplitude width of the curves, at
/// most 10 mm, and no farther than half way to the nearest of `others` that lies beside the point, unless that leaves
/// fewer than 3 widths.
double profile_half_range_m(std::span<const ProfileCurve> curves, const Vec3& true_m,
                            std::span<const TruePoint> others);

/// What all images have to say at the foot of a plot: ImageReport::provenance where they share it, else its caution.
std::string plot_footer(std::span<const ImageReport> images);

}  // namespace echoloom
