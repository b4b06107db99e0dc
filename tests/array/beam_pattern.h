#pragma once
/// The far-field beam of a row of weights, straight from the sum over elements, and what Harris reads off it.

#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>
#include <vector>

namespace echoloom {

class BeamPattern {
  public:
    explicit BeamPattern(std::vector<double> weights) : weights_(std::move(weights)) {}

    /// Amplitude relative to the main lobe's peak at `bins` (units of lambda z / (N pitch)) off axis.
    double operator()(double bins) const {
        std::complex<double> sum = 0.0;
        for (std::size_t n = 0; n < weights_.size(); ++n) {
            sum += std::polar(weights_[n], 2.0 * std::numbers::pi * bins * static_cast<double>(n) / count());
        }
        return std::abs(sum) / (mean() * count());
    }

    /// Full width of the main lobe at an amplitude, in bins.
    double width(double amplitude) const {
        double inside = 0.0;
        double outside = 1.0 / 128.0;
        while ((*this)(outside) > amplitude) {
            inside = outside;
            outside += 1.0 / 128.0;
        }
        for (int i = 0; i < 50; ++i) {
            const double middle = 0.5 * (inside + outside);
            ((*this)(middle) > amplitude ? inside : outside) = middle;
        }
        return inside + outside;
    }

    /// Highest side lobe beyond the first minimum and up to `within_bins`, in dB: 1/128 bin steps with a parabola
    /// through the top. By default the whole beam.
    double side_lobe_dB(double within_bins = 1e9) const {
        std::vector<double> level;
        for (double bins = 0.0; bins <= std::min(within_bins, 0.5 * count()); bins += 1.0 / 128.0) {
            level.push_back((*this)(bins));
        }
        std::size_t first = 1;
        while (first + 1 < level.size() && level[first + 1] < level[first]) {
            ++first;
        }
        const auto top = static_cast<std::size_t>(
            std::max_element(level.begin() + static_cast<std::ptrdiff_t>(first), level.end()) - level.begin());
        double peak = level[top];
        if (top + 1 < level.size()) {
            const double bend = level[top - 1] - 2.0 * level[top] + level[top + 1];
            const double slope = 0.5 * (level[top + 1] - level[top - 1]);
            peak -= bend != 0.0 ? 0.5 * slope * slope / bend : 0.0;
        }
        return 20.0 * std::log10(peak);
    }

    double mean() const {
        double sum = 0.0;
        for (const double weight : weights_) {
            sum += weight;
        }
        return sum / count();
    }

    /// Equivalent noise bandwidth in bins.
    double noise_bandwidth() const {
        double squares = 0.0;
        for (const double weight : weights_) {
            squares += weight * weight;
        }
        return squares / (count() * mean() * mean());
    }

  private:
    double count() const { return static_cast<double>(weights_.size()); }
    std::vector<double> weights_;
};

}  // namespace echoloom
