#pragma once
/// Captions: where an image comes from and how it was formed.

#include <string>

#include "recon/image/image.h"

namespace echoloom {

/// "Probe NAME, 128 elements, 5 MHz".
std::string describe_probe(const Probe& probe);

/// "Probe NAME, 128 elements, 5 MHz; 192 focused lines, transmit focus 60 mm; frame rate at most ...".
std::string describe_recording(const RecordingInfo& info);

/// "dynamic receive focus; growing aperture, F/2, up to 64 elements; Hann window; 1540 m/s".
std::string describe_recipe(const Image& image);

/// The last line of every picture. A recording without a phantom holds acquired data, and is not called simulated.
std::string caution(bool simulated);
bool is_simulated(const Image& image);

}  // namespace echoloom
