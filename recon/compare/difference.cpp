#include "recon/compare/difference.h"

#include <Eigen/Core>
#include <Eigen/LU>
#include <algorithm>
#include <cmath>
#include <cstring>
#include <limits>
#include <numeric>

#include "sim/base/error.h"

namespace echoloom {

namespace {

/// Rows this far below the strongest, in energy, are silence and rounding.
constexpr double silent_row = 1e-8;

/// Central, one-sided at the ends.
double slope(std::span<const float> values, std::size_t n) {
    const std::size_t left = n == 0 ? 0 : n - 1;
    const std::size_t right = std::min(n + 1, values.size() - 1);
    return right > left ? (static_cast<double>(values[right]) - values[left]) / static_cast<double>(right - left) : 0.0;
}

IndexRange bulk_of(const std::vector<double>& energy) {
    const double total = std::accumulate(energy.begin(), energy.end(), 0.0);
    IndexRange range{0, energy.empty() ? 0 : energy.size() - 1};
    double so_far = 0.0;
    bool begun = false;
    for (std::size_t n = 0; n < energy.size(); ++n) {
        so_far += energy[n];
        if (!begun && so_far > 0.1 * total) {
            range.from = n;
            begun = true;
        }
        if (so_far >= 0.9 * total) {
            range.to = n;
            break;
        }
    }
    return range;
}

double root_ratio(double above, double below) {
    if (below > 0.0) {
        return std::sqrt(above / below);
    }
    return above > 0.0 ? std::numeric_limits<double>::infinity() : 0.0;
}

}  // namespace

DifferenceSums::DifferenceSums(std::size_t rows, std::size_t samples)
    : row_energy_(rows), row_difference_(rows), sample_difference_(samples) {}

void DifferenceSums::add_row(std::size_t row, std::span<const float> before, std::span<const float> after,
                             std::span<const float> row_slope) {
    if (std::memcmp(before.data(), after.data(), before.size_bytes()) != 0) {
        identical_ = false;
    }
    for (std::size_t n = 0; n < before.size(); ++n) {
        const double old = before[n];
        const double change = static_cast<double>(after[n]) - old;
        if (!std::isfinite(change)) {
            throw InputError("a value " + std::string(std::isfinite(old) ? "after" : "before") +
                             " is not a finite number (row " + std::to_string(row) + ", sample " + std::to_string(n) +
                             "); make the file again");
        }
        peak_ = std::max(peak_, std::abs(old));
        if (std::abs(change) > std::abs(largest_)) {
            largest_ = change;
            largest_row_ = row;
            largest_sample_ = n;
        }
        before_energy_ += old * old;
        after_energy_ += static_cast<double>(after[n]) * after[n];
        products_ += old * after[n];
        row_energy_[row] += old * old;
        row_difference_[row] += change * change;
        sample_difference_[n] += change * change;
        const double terms[3] = {old, -slope(before, n), row_slope.empty() ? 0.0 : -static_cast<double>(row_slope[n])};
        for (int i = 0; i < 3; ++i) {
            right_[i] += terms[i] * change;
            for (int j = 0; j <= i; ++j) {
                normal_[i][j] += terms[i] * terms[j];
            }
        }
    }
}

ShiftFit DifferenceSums::fit() const {
    const double energy = std::accumulate(row_difference_.begin(), row_difference_.end(), 0.0);
    if (!(energy > 0.0)) {
        return {};
    }
    // Scaled to a diagonal of ones, so that units do not matter; an unknown without influence stays 0.
    Eigen::Matrix3d normal = Eigen::Matrix3d::Identity();
    Eigen::Vector3d right = Eigen::Vector3d::Zero();
    Eigen::Vector3d scale = Eigen::Vector3d::Zero();
    for (int i = 0; i < 3; ++i) {
        scale(i) = normal_[i][i] > 0.0 ? 1.0 / std::sqrt(normal_[i][i]) : 0.0;
        right(i) = right_[i] * scale(i);
        for (int j = 0; j < i; ++j) {
            normal(i, j) = normal(j, i) = normal_[i][j] * scale(i) * scale(j);
        }
    }
    const Eigen::Vector3d scaled = normal.fullPivLu().solve(right);
    const Eigen::Vector3d solved = scaled.cwiseProduct(scale);
    const double explained = std::clamp(scaled.dot(right) / energy, 0.0, 1.0);
    return {solved(0), solved(1), solved(2), explained};
}

Difference DifferenceSums::result() const {
    Difference result;
    result.identical = identical_;
    const double energy = std::accumulate(row_difference_.begin(), row_difference_.end(), 0.0);
    result.relative_l2 = root_ratio(energy, before_energy_);
    result.peak = peak_;
    result.largest = largest_;
    result.largest_row = largest_row_;
    result.largest_sample = largest_sample_;
    result.largest_dB = 20.0 * std::log10(root_ratio(largest_ * largest_, peak_ * peak_));
    result.level_dB =
        before_energy_ == after_energy_ ? 0.0 : 20.0 * std::log10(root_ratio(after_energy_, before_energy_));
    const double norms = std::sqrt(before_energy_) * std::sqrt(after_energy_);
    result.correlation = identical_ ? 1.0 : norms > 0.0 ? products_ / norms : 0.0;
    const double strongest = row_energy_.empty() ? 0.0 : std::ranges::max(row_energy_);
    for (std::size_t row = 0; row < row_energy_.size(); ++row) {
        const double own = root_ratio(row_difference_[row], row_energy_[row]);
        if (row_energy_[row] > silent_row * strongest && own > result.worst_row_l2) {
            result.worst_row_l2 = own;
            result.worst_row = row;
        }
    }
    result.fit = fit();
    result.rows = bulk_of(row_difference_);
    result.samples = bulk_of(sample_difference_);
    return result;
}

Difference field_difference(std::span<const float> before, std::span<const float> after, std::size_t rows,
                            std::size_t samples) {
    DifferenceSums sums(rows, samples);
    std::vector<float> row_slope(samples);
    for (std::size_t row = 0; row < rows; ++row) {
        const std::size_t left = row == 0 ? 0 : row - 1;
        const std::size_t right = std::min(row + 1, rows - 1);
        const auto apart = static_cast<float>(std::max<std::size_t>(1, right - left));
        for (std::size_t n = 0; n < samples; ++n) {
            row_slope[n] = (before[right * samples + n] - before[left * samples + n]) / apart;
        }
        sums.add_row(row, before.subspan(row * samples, samples), after.subspan(row * samples, samples), row_slope);
    }
    return sums.result();
}

}  // namespace echoloom
