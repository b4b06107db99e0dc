#pragma once
/// Closed forms for fully developed speckle, whose envelope is Rayleigh distributed, and its power exponentially.
///
/// Sources: C. B. Burckhardt, "Speckle in ultrasound B-mode scans", IEEE Trans. Sonics Ultrason. 25(1), 1-6, 1978; R.
/// F. Wagner, S. W. Smith, J. M. Sandrik, H. Lopez, "Statistics of speckle in ultrasound B-scans", IEEE Trans. Sonics
/// Ultrason. 30(3), 156-163, 1983 (both from memory). gCNR: A. Rodriguez-Molares et al., "The generalized
/// contrast-to-noise ratio: a formal definition for lesion detectability", IEEE Trans. UFFC 67(4), 745-759, 2020
/// (abstract read); its closed form here is derived from the definition.

namespace echoloom {

/// Mean over standard deviation of the envelope: sqrt(pi / (4 - pi)) = 1.913058.
double rayleigh_snr();

/// Standard deviation of that ratio over the ratio, for the correlated pixels of an image, `cells` its area over that
/// of a cell of the envelope: 0.48 / sqrt(cells), where independent values would give 0.71 (delta method). The ratio
/// does not depend on how bright each cell is, which is all that covaries over the extent of a cell: expanded in
/// Laguerre polynomials of the power, it starts at the second, whose covariance is |rho|^4. Derived for two equal
/// rectangular apertures laterally and a Gaussian echo axially (0.474; Gaussians both ways: 0.476).
double speckle_snr_spread(double cells);

/// |difference of means| / sqrt(sum of variances) of two Rayleigh envelopes whose powers differ by `contrast_dB`.
double rayleigh_cnr(double contrast_dB);

/// 1 minus the overlap of the two distributions: (1 - C) C^(C / (1 - C)), C the smaller power over the larger.
double rayleigh_gcnr(double contrast_dB);

/// Covariance of the envelope, normalised, at two places whose complex fields are correlated by rho:
/// (2F1(-1/2, -1/2; 1; |rho|^2) - 1) / (4 / pi - 1).
double envelope_covariance(double rho_squared);

}  // namespace echoloom
