#pragma once
/// Statistics of speckle: the signal-to-noise ratio of its envelope, and the speckle size.
///
/// SNR: mean over standard deviation of the envelope, 1.913 where it is fully developed (rayleigh.h). Cell size: the
/// integral of the envelope's normalised autocovariance over lateral or axial shifts (R. F. Wagner, S. W.
/// Smith, J. M. Sandrik, H. Lopez, IEEE Trans. Sonics Ultrason. 30(3), 156-163, 1983, from memory), to two cells to
/// either side.

#include <optional>
#include <span>
#include <vector>

#include "recon/measure/contrast.h"
#include "recon/measure/region_pixels.h"

namespace echoloom {

struct SpeckleStatistics {
    double snr = 0.0;
    double snr_low = 0.0, snr_high = 0.0;  ///< 95 % confidence, for Rayleigh speckle of that many cells
    double cells = 0.0;                    ///< independent ones: area over that of a cell
    std::optional<double> lateral_m, axial_m;
    double lateral_pixels = 0.0, axial_pixels = 0.0;  ///< per cell
};

/// `predicted` sets how far to integrate, and replaces a cell size that cannot be measured. The pixels are those
/// of one image, without trend, in any outline; at least a few hundred.
SpeckleStatistics measure_speckle(std::span<const RegionPixel> pixels, const SpeckleCell& predicted);

/// Autocovariance of the envelope at shifts of whole columns (or whole depths) over its variance; values from pairs
/// with both ends among the pixels. As many values as asked for, fewer where no pair is that far apart.
std::vector<double> autocovariance(std::span<const RegionPixel> pixels, bool lateral, std::size_t shifts);

}  // namespace echoloom
