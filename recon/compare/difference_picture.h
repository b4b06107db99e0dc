#pragma once
/// Before, after and their signed difference side by side as one PNG.

#include <filesystem>
#include <string>

#include "recon/compare/comparison.h"
#include "recon/image/image.h"

namespace echoloom {

/// Both images of one grid, on one scale of grey whose 0 dB is the peak before; and after - before, with levels in
/// dB against that peak, from the largest difference to 40 dB below it: blue and darker than the background where the
/// image is lower, yellow and lighter where it is higher, so that signs show without colour. Throws as draw_panels;
/// InputError where grids differ.
void draw_difference(const Image& before, const Image& after, const std::string& caption,
                     const std::filesystem::path& png);

/// The event that differs most, of two recordings of like size: its channels side by side as envelopes, depth by the
/// round trip.
void draw_difference(RecordingReader& before, RecordingReader& after, std::size_t event, const std::string& caption,
                     const std::filesystem::path& png);

}  // namespace echoloom
