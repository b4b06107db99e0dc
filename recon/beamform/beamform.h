#pragma once
/// Delay-and-sum: from the echoes of single elements to a beamformed grid.

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

/// Pixels in the plane y = 0: sample (x, depth).
struct CartesianGrid {
    std::vector<double> x_m;
    std::vector<double> depth_m;
};

using Grid = std::variant<LineGrid, CartesianGrid>;

/// Beamformed field on a grid, depth fastest: index = column * depths + depth. `imaginary` is empty for real RF lines;
/// Cartesian grids carry the analytic signal.
struct Beamformed {
    Grid grid;
    std::size_t columns = 0;
    std::size_t depths = 0;
    std::vector<float> real;
    std::vector<float> imaginary;
};

/// Forms lines from line scans and a Cartesian grid from plane-wave and full-matrix recordings. Reads events one by
/// one. Bit-identical on any number of threads. Throws InputError for a recipe that does not fit the recording.
Beamformed beamform(RecordingReader& recording, const Recipe& recipe, bool quiet = false);

/// Depths of the receive aperture: full width in metres of the active receive aperture at a depth, before the array's
/// own end cuts it.
double receive_aperture_m(const Recipe& recipe, const RecordingInfo& info, double depth_m);

}  // namespace echoloom
