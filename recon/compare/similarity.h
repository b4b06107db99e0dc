#pragma once
/// How similar two pictures look.

#include <span>

#include "recon/image/grey_scale.h"

namespace echoloom {

/// Mean structural similarity of the two pictures in grey: Z. Wang, A. C. Bovik, H. R. Sheikh, E. P. Simoncelli, IEEE
/// Trans. Image Process. 13(4), 600-612, 2004 (constants 0.01 and 0.03, Gaussian window of 11 x 11 samples with a
/// standard deviation of 1.5; from memory). Here over the image's own samples [column, depth], from black 0 to white 1
/// on one scale for both, whose 0 dB is `reference`; edges mirrored. 1 for equal pictures.
double structural_similarity(std::span<const float> before, std::span<const float> after, std::size_t columns,
                             std::size_t depths, const GreyScale& scale, double reference);

}  // namespace echoloom
