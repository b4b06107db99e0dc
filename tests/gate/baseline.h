#pragma once
/// What is kept of an image that was accepted: its numbers, a digest that identifies the same bits, and a thinned copy
/// of the envelope that says by how much, and where, another one differs. Small enough for git.

#include <cstdint>
#include <filesystem>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "recon/compare/metrics.h"
#include "recon/image/image.h"

namespace echoloom::gate {

/// Every n-th sample of an envelope.
struct Stride {
    std::size_t column = 1, depth = 1;
    friend bool operator==(const Stride&, const Stride&) = default;
};
/// One that leaves a few thousand samples.
Stride stride_of(const Image& image);
/// The image's thinned copy, grid and kept RF included.
Image thinned(const Image& image, const Stride& stride);

/// Amplitudes of either sign in 24 bits, by their level below the peak: 0 for silence or more than 160 dB, else 1 + the
/// level above that in steps of 1/50000 dB (within 1.2e-6 of the amplitude), and 2^23 more where it is negative.
std::vector<std::uint32_t> level_codes(const std::vector<float>& values, double peak);
std::vector<float> from_codes(std::span<const std::uint32_t> codes, double peak);

struct Baseline {
    std::string recording_digest;  ///< of the echoes
    std::string image_digest;      ///< of grid and envelope
    std::string grid;              ///< size and corners as text: where samples lie
    double peak = 0.0;
    Stride stride;
    std::vector<std::uint32_t> codes;  ///< thinned envelope [column, depth], then RF and quadrature where kept
    std::vector<Metric> metrics;
};

Baseline baseline_of(const Image& image);

/// The thinned copy of the image that the baseline was made of. `like`: an image of the same grid, for the
/// places of samples. Nothing where sizes disagree.
std::optional<Image> thinned_before(const Baseline& baseline, const Image& like);

/// SHA-256 of the envelope, kept RF, and the places of their samples.
std::string image_digest(const Image& image);

/// NAME.json and NAME.levels in a folder. Nothing where there is no such baseline; InputError where it is damaged.
std::optional<Baseline> read_baseline(const std::filesystem::path& folder, const std::string& name);
void write_baseline(const std::filesystem::path& folder, const std::string& name, const Baseline& baseline);

}  // namespace echoloom::gate
