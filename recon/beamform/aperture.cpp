#include "recon/beamform/aperture.h"

#include <algorithm>
#include <cmath>

#include "sim/base/text.h"

namespace echoloom {
namespace {

constexpr std::size_t window_intervals = 4096;
/// A Dolph-Chebyshev window is made for every count of elements up to the widest, each at the cost of its square: a
/// second or so for all up to this many.
constexpr int most_counted_elements = 1024;

/// Samples at the centres of equal parts of [-1/2, 1/2], linear between, constant beyond the outer centres.
double at_part_centers(const std::vector<double>& samples, double x) {
    const auto count = static_cast<double>(samples.size());
    const double place = std::clamp(x * count + 0.5 * (count - 1.0), 0.0, count - 1.0);
    const auto lower = std::min(static_cast<std::size_t>(place), samples.size() - 1);
    const auto upper = std::min(lower + 1, samples.size() - 1);
    const double t = place - static_cast<double>(lower);
    return (1.0 - t) * samples[lower] + t * samples[upper];
}

int most_elements(const Recipe& recipe, const RecordingInfo& info) {
    const int channels = static_cast<int>(info.channels);
    const int most = recipe.most_elements.value_or(channels);
    return std::min(most, channels);
}

double least_elements(const Recipe& recipe, const RecordingInfo& info) {
    if (recipe.aperture == ApertureMode::constant) {
        return most_elements(recipe, info);
    }
    return std::min(recipe.least_elements.value_or(1), most_elements(recipe, info));
}

}  // namespace

double mean_pitch_m(const Probe& probe) {
    if (probe.pitch_m > 0.0 || probe.elements.size() < 2) {
        return probe.pitch_m > 0.0 ? probe.pitch_m : probe.elements.front().width_m;
    }
    const auto [left, right] =
        std::ranges::minmax(probe.elements, {}, [](const Element& element) { return element.center_m.x(); });
    return (right.center_m.x() - left.center_m.x()) / static_cast<double>(probe.elements.size() - 1);
}

SampledWindow::SampledWindow(const Recipe& recipe, double least_elements, double most_elements)
    : custom_(recipe.custom_weights) {
    if (!custom_.empty()) {
        return;
    }
    if (recipe.window.kind == WindowKind::dolph_chebyshev) {
        if (most_elements > most_counted_elements) {
            throw InputError(place_of(recipe, "receive.window"),
                             "dolph_chebyshev is made for apertures of at most " + plain(most_counted_elements) +
                                 " elements, and this one has " + plain(most_elements) +
                                 ": limit it by most_elements, or take another window, such as kaiser");
        }
        first_count_ = std::max(1, static_cast<int>(std::floor(least_elements)));
        const int last_count = static_cast<int>(std::ceil(most_elements)) + 1;
        for (int count = first_count_; count <= last_count; ++count) {
            by_count_.push_back(count < 2 ? std::vector<double>{1.0} : window_at_centers(recipe.window, count));
        }
        return;
    }
    samples_.resize(window_intervals + 1);
    for (std::size_t i = 0; i <= window_intervals; ++i) {
        const double x = static_cast<double>(i) / static_cast<double>(window_intervals) - 0.5;
        samples_[i] = window_value(recipe.window, x, 2);
    }
}

double SampledWindow::operator()(double x, double elements) const {
    if (!custom_.empty()) {
        return at_part_centers(custom_, x);
    }
    if (!by_count_.empty()) {
        // Between two counts of elements their windows are blended, so that growth makes no step.
        const double place = std::clamp(elements - first_count_, 0.0, static_cast<double>(by_count_.size()) - 1.0);
        const auto lower = static_cast<std::size_t>(place);
        const auto upper = std::min(lower + 1, by_count_.size() - 1);
        const double t = place - static_cast<double>(lower);
        const double below = at_part_centers(by_count_[lower], x);
        return t < 1e-9 ? below : (1.0 - t) * below + t * at_part_centers(by_count_[upper], x);
    }
    const double place =
        std::clamp((x + 0.5) * static_cast<double>(window_intervals), 0.0, static_cast<double>(window_intervals));
    const auto lower = std::min(static_cast<std::size_t>(place), window_intervals - 1);
    const double t = place - static_cast<double>(lower);
    return (1.0 - t) * samples_[lower] + t * samples_[lower + 1];
}

Aperture::Aperture(const Recipe& recipe, const RecordingInfo& info)
    : pitch_m_(mean_pitch_m(info.probe)),
      f_number_(recipe.aperture == ApertureMode::growing ? recipe.f_number : 0.0),
      least_m_(least_elements(recipe, info) * pitch_m_),
      most_m_(most_elements(recipe, info) * pitch_m_),
      window_(recipe, least_elements(recipe, info), most_elements(recipe, info)) {
    const auto channels = static_cast<int>(info.channels);
    if (recipe.aperture == ApertureMode::constant && recipe.most_elements.value_or(channels) > channels) {
        throw InputError(place_of(recipe, "receive.most_elements"),
                         "a constant aperture of " + plain(*recipe.most_elements) +
                             " elements needs as many channels; this recording has " + plain(channels) +
                             ": lower it to that or leave it out");
    }
}

double Aperture::width_m(double depth_m) const {
    return f_number_ > 0.0 ? std::clamp(depth_m / f_number_, least_m_, most_m_) : most_m_;
}

void Aperture::weigh(double width_m, std::span<const double> offsets_m, bool normalize,
                     std::span<float> weights) const {
    const double half = 0.5 * width_m;
    const double elements = width_m / pitch_m_;
    double sum = 0.0;
    for (std::size_t i = 0; i < offsets_m.size(); ++i) {
        const double low = std::max(offsets_m[i] - 0.5 * pitch_m_, -half);
        const double high = std::min(offsets_m[i] + 0.5 * pitch_m_, half);
        const double share = (high - low) / pitch_m_;
        // Rounding must not let in an element that only touches the edge.
        const double weight = share > 1e-9 ? share * window_(0.5 * (low + high) / width_m, elements) : 0.0;
        weights[i] = static_cast<float>(weight);
        sum += weight;
    }
    if (normalize && std::abs(sum) > 1e-12) {
        const auto scale = static_cast<float>(1.0 / sum);
        for (float& weight : weights.first(offsets_m.size())) {
            weight *= scale;
        }
    }
}

double receive_aperture_m(const Recipe& recipe, const RecordingInfo& info, double depth_m) {
    const double pitch = mean_pitch_m(info.probe);
    const double most = most_elements(recipe, info) * pitch;
    if (recipe.aperture == ApertureMode::constant) {
        return most;
    }
    return std::clamp(depth_m / recipe.f_number, least_elements(recipe, info) * pitch, most);
}

}  // namespace echoloom
