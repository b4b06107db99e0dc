#pragma once
/// How two regions of an image differ.
///
/// All on the linear envelope A, before compression:
///   contrast  10 log10 (mean A^2 inside / mean A^2 outside)
///   CNR       |mean A inside - mean A outside| / sqrt(variance inside + variance outside) (M. S. Patterson & F. S.
///             Foster, Ultrasonic Imaging 5, 195-213, 1983, from memory; other forms are in use: compare like with
///             like)
///   gCNR      1 - overlap of the two distributions of A: 2 P - 1, with P the probability that the best decision on a
///   single
///             pixel is right about inside or outside (A. Rodriguez-Molares et al. 2020, see rayleigh.h)
///
/// A histogram of gCNR on a finite sample is too high: two samples of one distribution, in K bins with n values each,
/// give sqrt(K / (pi n)), not 0. So here one half of the pixels (tiles in the pattern of a chessboard) decides
/// which bins count as inside, the other half is evaluated, and the other way round: no bias upwards, and little
/// downwards where there are many cells.

#include <span>
#include <vector>

#include "recon/measure/region_pixels.h"

namespace echoloom {

struct RegionContrast {
    double contrast_dB = 0.0;
    double cnr = 0.0;
    double gcnr = 0.0;
    double cells_inside = 0.0, cells_outside = 0.0;  ///< independent ones
    double contrast_spread_dB = 0.0;                 ///< standard deviation, for Rayleigh regions of that many cells
    double cnr_spread = 0.0;
    double gcnr_spread = 0.0;
};

/// Size of what counts as one independent value.
struct SpeckleCell {
    double lateral_m = 0.0;
    double axial_m = 0.0;
    double area_m2() const { return lateral_m * axial_m; }
};

/// Neither region may be empty.
RegionContrast compare_regions(std::span<const RegionPixel> inside, std::span<const RegionPixel> outside,
                               const SpeckleCell& cell);

/// Values of two classes, each with the half (0 or 1) it belongs to.
struct LabelledValue {
    double value;
    int half;
};
/// gCNR with bins of equal share of all values, as many as `cells` independent values support. The bin that holds the
/// best single threshold (that of the training half) is split there: otherwise two regions that hardly overlap would
/// share a bin, and 40 dB could give 0.8.
double cross_validated_gcnr(std::span<const LabelledValue> inside, std::span<const LabelledValue> outside,
                            double cells);

}  // namespace echoloom
