#pragma once
/// An image: the envelope on its grid, and all that is needed to draw it and to measure in it.

#include <filesystem>
#include <string>
#include <vector>

#include "recon/beamform/beamform.h"
#include "recon/beamform/recipe.h"
#include "sim/recording/recording.h"

namespace echoloom {

struct Image {
    Grid grid;
    std::size_t columns = 0;
    std::size_t depths = 0;
    std::vector<float> envelope;         ///< [column, depth], depth fastest
    std::vector<float> real, imaginary;  ///< kept when the recipe asks; may be empty
    Recipe recipe;
    RecordingInfo recording;       ///< of the recording it was formed from (geometry, truth, digest)
    double sound_speed_m_s = 0.0;  ///< assumed in the reconstruction
};

/// Envelope and attenuation compensation. Lines: analytic signal along depth by FFTW; grids: modulus of the analytic
/// sum.
Image form_image(Beamformed beamformed, const Recipe& recipe, const RecordingInfo& info);

void write_image(const std::filesystem::path& path, const Image& image);
/// Throws InputError for a file that is not a complete image of a known version.
Image read_image(const std::filesystem::path& path);

}  // namespace echoloom
