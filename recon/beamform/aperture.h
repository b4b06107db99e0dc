#pragma once
/// Which elements take part at a depth, and with what weight.
///
/// The aperture is a stretch of the array's face of width D, measured along it and centred on the origin of the line or
/// of the image's column. Each element owns one pitch of the face; it counts by the share of its pitch that lies inside
/// the aperture, times the window at the middle of that share. So a whole element has the window's value at its centre
/// (a window of length N pitches over N elements), and an aperture that grows takes elements in without a step. Where
/// columns are cut into rows along elevation, counts are of columns, and all rows of a column are alike.
///
/// The aperture of rings is a disc of diameter D about their axis. A ring counts by the share of its area inside the
/// disc, times the window at the radius that halves that share; counts are of rings, from the inside.

#include <optional>
#include <span>
#include <vector>

#include "recon/beamform/recipe.h"
#include "sim/recording/recording.h"

namespace echoloom {

/// A window as a function that is quick to evaluate: sampled once, interpolated linearly (error below 1e-6).
class SampledWindow {
  public:
    SampledWindow(const Recipe& recipe, double min_elements, double max_elements);
    /// Any but Dolph-Chebyshev.
    explicit SampledWindow(const Window& window) { sample(window); }
    /// At x in [-1/2, 1/2] of an aperture `elements` wide; the count, whole or not, matters to Dolph-Chebyshev alone.
    double operator()(double x, double elements) const;
    /// The samples from -1/2 to 1/2, where the count of elements does not matter; else empty.
    std::span<const float> curve() const { return curve_; }

  private:
    void sample(const Window& window);

    std::vector<double> samples_;                ///< from -1/2 to 1/2; empty for Dolph-Chebyshev
    std::vector<float> curve_;                   ///< the same, for kernels
    std::vector<double> custom_;                 ///< weights from a file
    std::vector<std::vector<double>> by_count_;  ///< Dolph-Chebyshev: [count - first_count_]
    int first_count_ = 0;
};

class Aperture {
  public:
    /// Of an element inside the aperture; rounding must not let in one that only touches the edge.
    static constexpr double min_share = 1e-9;

    /// Throws InputError where the recording cannot offer the aperture.
    Aperture(const Recipe& recipe, const RecordingInfo& info);

    double width_m(double depth_m) const;
    /// Weight of an element at an offset from the centre of an aperture of the given width; 0 outside.
    double weight(double width_m, double offset_m) const;
    /// Fills `weights` for elements at `offsets_m` from the centre of an aperture of the given width; 0 outside. Where
    /// `normalize`, those that are there sum to one.
    void weigh(double width_m, std::span<const double> offsets_m, bool normalize, std::span<float> weights) const;

    double pitch_m() const { return pitch_m_; }
    const SampledWindow& window() const { return window_; }

    /// The same for the rings of an annular array, by their element numbers.
    void weigh_rings(double width_m, std::span<const int> rings, bool normalize, std::span<float> weights) const;

  private:
    struct Ring {
        double inner_m, outer_m;
    };

    double pitch_m_;
    double f_number_;  ///< 0 for a constant aperture
    double min_m_;
    double max_m_;
    SampledWindow window_;
    std::vector<Ring> rings_;  ///< [element] of an annular array
};

/// Pitch of the array: the probe's, else the mean distance between its columns along the face; of rings their mean
/// step in radius.
double mean_pitch_m(const Probe& probe);

}  // namespace echoloom
