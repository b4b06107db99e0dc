#pragma once
/// Delay-and-sum: from the echoes of single elements to a beamformed grid.
///
///     image(p) = sum over events e and channels c of  w_e(p) w_c(p) RF_e,c( [transmit path + receive path] / c0 )
///
/// Transmit path: the depth along its line (line scans); (p - origin) . direction (plane waves); |p - element| (full
/// matrix); |p - source| - |origin - source| (diverging waves); of a focused event that is looked at pixel by pixel
/// FocusCone::path_m. Receive path: |p - element| for a dynamic focus; depth + |F - element| - |F - origin| for a focus
/// held at F. Between two zone depths of the receive focus it changes at their midpoint. A ring is as far from a
/// point of its axis as its ring_radius_m says.

#include <functional>
#include <span>
#include <variant>
#include <vector>

#include "recon/beamform/recipe.h"
#include "sim/recording/recording_reader.h"

namespace echoloom {

/// Scan lines: sample (line, depth) lies at origin + depth * direction.
struct LineGrid {
    std::vector<Vec3> origin_m;   ///< [line]
    std::vector<Vec3> direction;  ///< [line], unit
    std::vector<double> depth_m;  ///< [depth], equally spaced along the line
};

/// Pixels in the plane y = 0, columns straight down from z = 0: sample (x, depth).
struct CartesianGrid {
    std::vector<double> x_m;
    std::vector<double> depth_m;
};

using Grid = std::variant<LineGrid, CartesianGrid>;

/// Beamformed field on a grid, depth fastest: index = column * depths + depth. `imaginary` is empty for the real RF of
/// lines as transmitted; images of pixels carry the analytic signal.
struct Beamformed {
    Grid grid;
    std::size_t columns = 0;
    std::size_t depths = 0;
    std::vector<float> real;
    std::vector<float> imaginary;
};

/// Fills samples [channel, sample] of one event; called on one thread, each event once, in rising order.
using EventReader = std::function<void(std::size_t event, std::span<float> samples)>;

/// Forms lines from scans of focused events, each from its own or, retrospectively, each from all; and pixels from
/// recordings of plane waves, diverging waves and full matrices, on a Cartesian grid below a flat array, and on lines
/// along the radii of a curved one or from the middle of a phased one. Reads events one by one. Bit-identical on any
/// number of threads. Throws InputError for a recipe that does not fit the recording, naming the key.
///
/// Where the recipe says nothing: depths from where the echoes of the first sample lie to the deepest point whose
/// echoes were recorded on the whole aperture; lines in steps of c0 / (2 sampling rate); pixels as wide as the array,
/// in steps of a quarter wavelength laterally and in depth, enough for their envelope at any aperture (sectors:
/// recipe.h).
Beamformed beamform(RecordingReader& recording, const Recipe& recipe, bool quiet = false);
/// The same from samples in memory.
Beamformed beamform(const RecordingInfo& info, const EventReader& read_event, const Recipe& recipe, bool quiet = true);

/// Depths of the receive aperture: full width in metres of the active receive aperture at a depth, before the array's
/// own end cuts it.
double receive_aperture_m(const Recipe& recipe, const RecordingInfo& info, double depth_m);

/// The sound speed a reconstruction assumes: the recipe's, else the recording's.
double assumed_sound_speed(const Recipe& recipe, const RecordingInfo& info);

}  // namespace echoloom
