#pragma once
/// Figures of merit of apodization windows.
///
/// Source: F. J. Harris, "On the use of windows for harmonic analysis with the discrete Fourier transform", Proc. IEEE
/// 66(1), 51-83, 1978 (definitions; his Table I from memory). The two tables at 32, 64 and 128 elements are recomputed
/// from those definitions by recompute_windows.py, independently of this code.

#include <array>
#include <numbers>
#include <vector>

#include "sim/array/window.h"

namespace echoloom::published {

/// Beam of N weights: highest side lobe in dB; full width in bins (units of lambda z / (N pitch)) at amplitude 1/2 and
/// at 1/sqrt(2); mean weight; equivalent noise bandwidth in bins. Arrays are for N = 32, 64, 128, scalars for N = 64.
struct WindowRow {
    Window window;
    std::array<double, 3> side_lobe_dB;
    std::array<double, 3> half_width;
    double root_half_width;
    double coherent_gain;
    double noise_bandwidth;
};

/// Windows whose end points lie on the outermost elements.
inline const std::vector<WindowRow> symmetric_windows = {
    {{WindowKind::rectangular, 0}, {-13.23, -13.25, -13.26}, {1.2071, 1.2068, 1.2067}, 0.8860, 1.0000, 1.0000},
    {{WindowKind::triangle, 0}, {-26.46, -26.51, -26.52}, {1.8310, 1.8004, 1.7859}, 1.2963, 0.4921, 1.3548},
    {{WindowKind::cosine, 0}, {-22.89, -22.97, -22.99}, {1.6948, 1.6660, 1.6525}, 1.2083, 0.6265, 1.2538},
    {{WindowKind::hann, 0}, {-31.47, -31.47, -31.47}, {2.0645, 2.0317, 2.0157}, 1.4634, 0.4922, 1.5238},
    {{WindowKind::hamming, 0}, {-41.76, -42.45, -42.62}, {1.8561, 1.8355, 1.8253}, 1.3165, 0.5328, 1.3783},
    {{WindowKind::blackman, 0}, {-58.13, -58.11, -58.11}, {2.3730, 2.3353, 2.3169}, 1.6698, 0.4134, 1.7542},
    {{WindowKind::tukey, 0.25}, {-13.60, -13.60, -13.60}, {1.4178, 1.3951, 1.3841}, 1.0234, 0.8613, 1.1195},
    {{WindowKind::tukey, 0.5}, {-15.12, -15.12, -15.12}, {1.6233, 1.5975, 1.5849}, 1.1683, 0.7383, 1.2416},
    {{WindowKind::kaiser, 2.0}, {-18.84, -18.63, -18.53}, {1.3744, 1.3679, 1.3648}, 0.9974, 0.7899, 1.0504},
    {{WindowKind::kaiser, 4.0}, {-31.22, -30.57, -30.25}, {1.7014, 1.6808, 1.6709}, 1.2130, 0.5955, 1.2612},
    {{WindowKind::kaiser, 5.0}, {-37.73, -37.24, -36.97}, {1.8630, 1.8366, 1.8239}, 1.3208, 0.5368, 1.3778},
    {{WindowKind::kaiser, 6.0}, {-44.05, -43.97, -43.89}, {2.0143, 1.9837, 1.9689}, 1.4230, 0.4924, 1.4888},
    {{WindowKind::kaiser, 2.0 * std::numbers::pi},
     {-45.86, -45.90, -45.88},
     {2.0553, 2.0237, 2.0085},
     1.4508,
     0.4817,
     1.5191},
    {{WindowKind::kaiser, 2.5 * std::numbers::pi},
     {-56.76, -57.07, -57.29},
     {2.2698, 2.2340, 2.2165},
     1.5973,
     0.4328,
     1.6779},
    {{WindowKind::kaiser, 8.0}, {-57.86, -58.16, -58.39}, {2.2887, 2.2526, 2.2350}, 1.6103, 0.4290, 1.6919},
    {{WindowKind::dolph_chebyshev, 50.0}, {-50.00, -50.00, -50.00}, {1.8979, 1.8779, 1.8655}, 1.3466, 0.5188, 1.4100},
    {{WindowKind::dolph_chebyshev, 60.0}, {-60.00, -60.00, -60.00}, {2.0635, 2.0460, 2.0335}, 1.4639, 0.4734, 1.5366},
    {{WindowKind::dolph_chebyshev, 80.0}, {-80.00, -80.00, -80.00}, {2.3525, 2.3444, 2.3331}, 1.6727, 0.4101, 1.7617},
};

/// Windows that span N pitches, taken at the element centres. (The Gaussian rows of both tables are these.)
inline const std::vector<WindowRow> centered_windows = {
    {{WindowKind::rectangular, 0}, {-13.23, -13.25, -13.26}, {1.2071, 1.2068, 1.2067}, 0.8860, 1.0000, 1.0000},
    {{WindowKind::triangle, 0}, {-26.64, -26.55, -26.53}, {1.7703, 1.7714, 1.7717}, 1.2754, 0.5000, 1.3330},
    {{WindowKind::cosine, 0}, {-23.05, -23.01, -23.00}, {1.6383, 1.6391, 1.6393}, 1.1887, 0.6367, 1.2335},
    {{WindowKind::hann, 0}, {-31.47, -31.47, -31.47}, {2.0000, 2.0000, 2.0000}, 1.4406, 0.5000, 1.5000},
    {{WindowKind::hamming, 0}, {-42.28, -42.57, -42.65}, {1.8153, 1.8152, 1.8152}, 1.3030, 0.5400, 1.3628},
    {{WindowKind::blackman, 0}, {-58.09, -58.11, -58.11}, {2.2988, 2.2988, 2.2988}, 1.6437, 0.4200, 1.7268},
    {{WindowKind::tukey, 0.25}, {-13.60, -13.60, -13.60}, {1.3732, 1.3733, 1.3733}, 1.0074, 0.8750, 1.1020},
    {{WindowKind::tukey, 0.5}, {-15.12, -15.12, -15.12}, {1.5725, 1.5726, 1.5726}, 1.1501, 0.7500, 1.2222},
    {{WindowKind::gaussian, 2.5}, {-43.12, -43.22, -43.24}, {1.9211, 1.9214, 1.9214}, 1.3731, 0.4951, 1.4455},
    {{WindowKind::gaussian, 3.0}, {-55.87, -56.02, -56.05}, {2.2591, 2.2592, 2.2593}, 1.6041, 0.4166, 1.7017},
    {{WindowKind::gaussian, 3.5}, {-70.77, -70.94, -70.98}, {2.6248, 2.6248, 2.6248}, 1.8580, 0.3579, 1.9765},
    {{WindowKind::kaiser, 2.0}, {-18.40, -18.42, -18.43}, {1.3618, 1.3618, 1.3618}, 0.9931, 0.7955, 1.0472},
    {{WindowKind::kaiser, 4.0}, {-29.98, -29.95, -29.94}, {1.6607, 1.6611, 1.6612}, 1.1993, 0.6037, 1.2466},
    {{WindowKind::kaiser, 5.0}, {-36.79, -36.71, -36.70}, {1.8110, 1.8113, 1.8114}, 1.3031, 0.5448, 1.3589},
    {{WindowKind::kaiser, 6.0}, {-43.88, -43.81, -43.80}, {1.9541, 1.9543, 1.9544}, 1.4022, 0.5000, 1.4668},
    {{WindowKind::kaiser, 2.0 * std::numbers::pi},
     {-45.92, -45.87, -45.86},
     {1.9932, 1.9934, 1.9935},
     1.4293,
     0.4892,
     1.4963},
    {{WindowKind::kaiser, 2.5 * std::numbers::pi},
     {-57.39, -57.52, -57.55},
     {2.1993, 2.1994, 2.1994},
     1.5727,
     0.4396,
     1.6519},
    {{WindowKind::kaiser, 8.0}, {-58.48, -58.62, -58.65}, {2.2176, 2.2177, 2.2177}, 1.5855, 0.4358, 1.6657},
};

/// A row of Harris's Table I as printed: side lobe, coherent gain, noise bandwidth, widths at 3 and 6 dB in bins. Left
/// out are the rows that his own definitions do not reproduce (Blackman's widths, exact Blackman, Gaussian) and those
/// of windows not offered here.
struct HarrisRow {
    Window window;
    double side_lobe_dB;
    double coherent_gain;
    double noise_bandwidth;
    double width_3dB;
    double width_6dB;
};
inline const std::vector<HarrisRow> harris_table_1 = {
    {{WindowKind::rectangular, 0}, -13, 1.00, 1.00, 0.89, 1.21},
    {{WindowKind::triangle, 0}, -27, 0.50, 1.33, 1.28, 1.78},
    {{WindowKind::cosine, 0}, -23, 0.64, 1.23, 1.20, 1.65},
    {{WindowKind::hann, 0}, -32, 0.50, 1.50, 1.44, 2.00},
    {{WindowKind::hamming, 0}, -43, 0.54, 1.36, 1.30, 1.81},
    {{WindowKind::tukey, 0.25}, -14, 0.88, 1.10, 1.01, 1.38},
    {{WindowKind::tukey, 0.50}, -15, 0.75, 1.22, 1.15, 1.57},
    {{WindowKind::tukey, 0.75}, -19, 0.63, 1.36, 1.31, 1.80},
    {{WindowKind::kaiser, 2.0 * std::numbers::pi}, -46, 0.49, 1.50, 1.43, 1.99},
    {{WindowKind::kaiser, 2.5 * std::numbers::pi}, -57, 0.44, 1.65, 1.57, 2.20},
    {{WindowKind::kaiser, 3.0 * std::numbers::pi}, -69, 0.40, 1.80, 1.71, 2.39},
    {{WindowKind::kaiser, 3.5 * std::numbers::pi}, -82, 0.37, 1.93, 1.83, 2.57},
};

}  // namespace echoloom::published
