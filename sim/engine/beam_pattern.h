#pragma once
/// A beam against angle, at one distance or in the far field: side lobes, and grating lobes where theory puts them.

#include <optional>
#include <vector>

#include "sim/engine/field_beam.h"

namespace echoloom {

/// How theory sees a row of elements: equally spaced, each a strip.
struct ArrayTheory {
    double steer_rad = 0.0;   ///< of the beam, from broadside
    double pitch_m = 0.0;     ///< 0 where there is none: rings, a single face, elevation
    double element_m = 0.0;   ///< width of an element
    bool soft = false;        ///< baffle
    double aperture_m = 0.0;  ///< D
    double wavelength_m = 0.0;
    double bandwidth = 0.0;  ///< relative, at half amplitude, of a pulse; 0: continuous wave
};

/// Element factor of a strip: sinc(w sin(angle) / lambda), in a soft baffle times cos(angle) (A. R. Selfridge et al.,
/// Appl. Phys. Lett. 37, 35, 1980, from memory).
double element_factor(const ArrayTheory& theory, double angle_rad);

struct BeamPattern {
    std::optional<double> distance_m;                      ///< none: far field
    std::vector<double> angle_rad;                         ///< from broadside, rising in equal steps
    std::vector<double> amplitude;                         ///< [angle]
    std::size_t top = 0;                                   ///< index of the main lobe's peak
    double valley_left_rad = 0.0, valley_right_rad = 0.0;  ///< where the main lobe ends
    double level(std::size_t i) const { return amplitude[i] / amplitude[top]; }
};

/// A lobe's place and its amplitude relative to the main lobe's peak.
struct Lobe {
    double angle_rad = 0.0, level = 0.0;
};

/// A grating lobe: sin(angle) = sin(steer) + order lambda / pitch (any text on arrays).
struct GratingLobe {
    int order = 0;
    double sine = 0.0;                    ///< predicted
    std::optional<double> angle_rad;      ///< none beyond a right angle, from where only the lobe's skirt shows
    std::optional<Lobe> found;            ///< the highest amplitude where it may be
    double level = 0.0;                   ///< predicted in the far field, continuous wave: the ratio of element factors
    double min_rad = 0.0, max_rad = 0.0;  ///< where it may be: a focus for one direction smears the others
    /// Where its own side lobes may be taken for the main lobe's; a pulse's lobe lies under another angle at each of
    /// its frequencies.
    double skirt_min_rad = 0.0, skirt_max_rad = 0.0;
};

/// Angles go from `broadside` towards `across` (unit vectors), through nearly a right angle to either side.
BeamPattern beam_pattern(const BeamField& field, const Vec3& origin_m, const Vec3& broadside, const Vec3& across,
                         double steer_rad, double aperture_m, std::optional<double> distance_m);

/// Fills in top and valleys: the highest amplitude near the direction of the beam, whose lobes are so wide (lambda /
/// D).
void find_main_lobe(BeamPattern& pattern, double steer_rad, double lobe_rad);

/// All that can appear; `ways` is 2 for a two-way beam.
std::vector<GratingLobe> grating_lobes(const BeamPattern& pattern, const ArrayTheory& theory, int ways);

/// The highest lobe beside the main one that belongs to no grating lobe; none where the pattern only falls.
std::optional<Lobe> peak_side_lobe(const BeamPattern& pattern, const std::vector<GratingLobe>& gratings);

/// Full width of the main lobe at half of its peak, in radians.
std::optional<double> pattern_width_rad(const BeamPattern& pattern);

}  // namespace echoloom
