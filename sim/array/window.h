#pragma once
/// Apodization windows as continuous functions over an aperture.
///
/// Source: F. J. Harris, "On the use of windows for harmonic analysis with the discrete Fourier transform", Proc. IEEE
/// 66(1), 51-83, 1978; his table's Blackman widths and Gaussian rows are not what its formulas give
/// (tests/published/windows.h).

#include <span>
#include <string_view>
#include <vector>

namespace echoloom {

enum class WindowKind {
    rectangular,
    triangle,
    cosine,
    hann,
    hamming,
    blackman,
    tukey,            ///< parameter: tapered fraction of the whole window
    gaussian,         ///< parameter: Harris's alpha, exp(-(alpha x / (1/2))^2 / 2)
    kaiser,           ///< parameter: beta = pi alpha
    dolph_chebyshev,  ///< parameter: side lobe level in dB below the main lobe (positive)
};

struct Window {
    WindowKind kind = WindowKind::rectangular;
    double parameter = 0.0;
};

std::span<const std::string_view> window_names();
/// Throws std::invalid_argument for a name not in window_names().
WindowKind window_kind(std::string_view name);
std::string_view window_name(WindowKind kind);

/// What a window's parameter may be; all zero where the window has none.
struct WindowParameter {
    double usual = 0.0;
    double least = 0.0;
    double most = 0.0;
};
WindowParameter window_parameter(WindowKind kind);
double window_default_parameter(WindowKind kind);

/// Weight at x, the position across the aperture from -1/2 to +1/2; 0 outside. A Dolph-Chebyshev window exists only for
/// a count of elements: `count` says for how many; between their centres its weights are interpolated. That costs
/// count^2 operations a call: where many values are wanted, take window_at_centers() once.
double window_value(const Window& window, double x, int count);

/// Weights at the centres of `count` equal elements, x_n = (n - (count-1)/2) / count. Dolph-Chebyshev is exact here.
std::vector<double> window_at_centers(const Window& window, int count);

/// Weights of the symmetric window with its end points included, x_n = (n - (count-1)/2) / (count-1).
std::vector<double> window_symmetric(const Window& window, int count);

}  // namespace echoloom
