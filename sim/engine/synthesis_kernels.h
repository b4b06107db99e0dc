#pragma once
/// The kernels of synthesis.cpp. Spectra go in chunks of chunk_bins bins, real parts before imaginary parts.

#include <cstddef>
#include <cstdint>

namespace echoloom {

inline constexpr std::size_t chunk_bins = 16;
inline constexpr std::size_t chunk_values = 2 * chunk_bins;
/// Events that are summed side by side, so that an echo's spectrum is read once for all of them.
inline constexpr std::size_t events_abreast = 4;

/// weight exp(-j 2 pi turns_per_bin k) for k = first_bin to first_bin + 15; turns in double precision.
void fill_phases(double turns_per_bin, double weight, std::size_t first_bin, float* out);

/// out[event] = sum over n < count of phases[n][event] * spectra[pair[n]], in order of n.
struct ChunkSum {
    const float* spectra;  ///< [pair][chunk_values]
    const std::uint32_t* pair;
    const float* phases;  ///< [n][events_abreast][chunk_values]
    std::size_t count;
    float* out;  ///< [events_abreast][chunk_values]
};
void sum_chunk(const ChunkSum& sum);

}  // namespace echoloom
