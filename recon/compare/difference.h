#pragma once
/// How much one set of samples differs from another of the same shape, in norm and level, and where.

#include <cstddef>
#include <span>
#include <string>
#include <vector>

namespace echoloom {

/// What a common change of level and a common small shift would explain: the least-squares fit of
/// after - before = gain * before - samples * d before / d sample - rows * d before / d row.
struct ShiftFit {
    double gain = 0.0;       ///< relative: 0.01 is one percent brighter
    double samples = 0.0;    ///< shift, positive: later, deeper
    double rows = 0.0;       ///< shift; 0 where adjacent rows are not neighbours
    double explained = 0.0;  ///< share of the difference's energy, 0 to 1
};

/// First and last index of the middle 80 % of the difference's energy (10 % before, 10 % after).
struct IndexRange {
    std::size_t from = 0, to = 0;
};

struct Difference {
    bool identical = true;        ///< bit by bit
    double relative_l2 = 0.0;     ///< norm of the difference over that of before; infinite where before is silent
    double peak = 0.0;            ///< largest magnitude before
    double largest = 0.0;         ///< signed, after - before
    double largest_dB = 0.0;      ///< its magnitude against the peak before; minus infinity where there is none
    std::size_t largest_row = 0;  ///< where
    std::size_t largest_sample = 0;
    double level_dB = 0.0;     ///< rms after over rms before
    double correlation = 1.0;  ///< sum of products over the product of norms
    double worst_row_l2 =
        0.0;  ///< the largest of any row against its own norm; rows 80 dB below the strongest left out
    std::size_t worst_row = 0;
    ShiftFit fit;
    IndexRange rows, samples;  ///< where most of it lies
};

/// Adds up differences row by row (a row is a scan line, or a channel of an event), in the order they are given.
class DifferenceSums {
  public:
    DifferenceSums(std::size_t rows, std::size_t samples);

    /// Rows of `samples` values; `row_slope` is d before / d row, empty where adjacent rows are not
    /// neighbours. Throws InputError
    /// where a value is not a finite number.
    void add_row(std::size_t row, std::span<const float> before, std::span<const float> after,
                 std::span<const float> row_slope = {});
    Difference result() const;

  private:
    ShiftFit fit() const;
    bool identical_ = true;
    double before_energy_ = 0.0, after_energy_ = 0.0, products_ = 0.0;
    double peak_ = 0.0, largest_ = 0.0;
    std::size_t largest_row_ = 0, largest_sample_ = 0;
    std::vector<double> row_energy_, row_difference_, sample_difference_;
    // Normal equations of the fit: unknowns gain, samples, rows.
    double normal_[3][3] = {};
    double right_[3] = {};
};

/// Both fields [row, sample], adjacent rows being neighbours.
Difference field_difference(std::span<const float> before, std::span<const float> after, std::size_t rows,
                            std::size_t samples);

}  // namespace echoloom
