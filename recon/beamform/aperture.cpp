#include "recon/beamform/aperture.h"

#include <algorithm>
#include <cmath>

#include "sim/array/face.h"
#include "sim/base/text.h"

namespace echoloom {
namespace {

constexpr std::size_t window_intervals = 4096;
/// A Dolph-Chebyshev window is made for every count of elements up to the widest, each at the cost of its square: a
/// second or so for all up to this many.
constexpr int max_counted_elements = 1024;

/// Samples at the centres of equal parts of [-1/2, 1/2], linear between, constant beyond the outer centres.
double at_part_centers(const std::vector<double>& samples, double x) {
    const auto count = static_cast<double>(samples.size());
    const double place = std::clamp(x * count + 0.5 * (count - 1.0), 0.0, count - 1.0);
    const auto lower = std::min(static_cast<std::size_t>(place), samples.size() - 1);
    const auto upper = std::min(lower + 1, samples.size() - 1);
    const double t = place - static_cast<double>(lower);
    return (1.0 - t) * samples[lower] + t * samples[upper];
}

/// Channels side by side: the array's columns, or its rings.
int channel_columns(const RecordingInfo& info) {
    return std::max(1, static_cast<int>(info.channels) / std::max(1, info.probe.rows));
}

int max_elements(const Recipe& recipe, const RecordingInfo& info) {
    const int channels = channel_columns(info);
    return std::min(recipe.max_elements.value_or(channels), channels);
}

int min_elements(const Recipe& recipe, const RecordingInfo& info) {
    if (recipe.aperture == ApertureMode::constant) {
        return max_elements(recipe, info);
    }
    return std::min(recipe.min_elements.value_or(1), max_elements(recipe, info));
}

bool has_rings(const Probe& probe) {
    return probe.elements.front().is_ring();
}

/// Width of an aperture of so many elements; of rings, the innermost ones'.
double width_of(const Probe& probe, int elements) {
    if (!has_rings(probe)) {
        return elements * mean_pitch_m(probe);
    }
    std::vector<double> outer;
    for (const Element& ring : probe.elements) {
        outer.push_back(ring.outer_m);
    }
    std::ranges::sort(outer);
    return 2.0 * outer[std::min(static_cast<std::size_t>(elements), outer.size()) - 1];
}

/// Elements side by side in that aperture, not all whole where they are rings.
double elements_across(const Probe& probe, int elements) {
    return has_rings(probe) ? width_of(probe, elements) / mean_pitch_m(probe) : elements;
}

/// Divides by the sum, where there is one.
void make_sum_one(std::span<float> weights, double sum) {
    if (std::abs(sum) > 1e-12) {
        const auto scale = static_cast<float>(1.0 / sum);
        for (float& weight : weights) {
            weight *= scale;
        }
    }
}

}  // namespace

double mean_pitch_m(const Probe& probe) {
    if (has_rings(probe)) {
        const auto outermost = std::ranges::max_element(probe.elements, {}, &Element::outer_m)->outer_m;
        return outermost / static_cast<double>(probe.elements.size());
    }
    const int columns = column_count(probe);
    if (probe.pitch_m > 0.0 || columns < 2) {
        return probe.pitch_m > 0.0 ? probe.pitch_m : probe.elements.front().width_m;
    }
    const auto along = [&](const Element& element) { return face_lateral_m(probe, element.center_m); };
    const auto [left, right] = std::ranges::minmax_element(probe.elements, {}, along);
    return (along(*right) - along(*left)) / static_cast<double>(columns - 1);
}

SampledWindow::SampledWindow(const Recipe& recipe, double min_elements, double max_elements)
    : custom_(recipe.custom_weights) {
    if (!custom_.empty()) {
        return;
    }
    if (recipe.window.kind == WindowKind::dolph_chebyshev) {
        if (max_elements > max_counted_elements) {
            throw InputError(place_of(recipe, "receive.window"),
                             "dolph_chebyshev is made for apertures of at most " + plain(max_counted_elements) +
                                 " elements, and this one has " + plain(max_elements) +
                                 ": limit it by max_elements, or take another window, such as kaiser");
        }
        first_count_ = std::max(1, static_cast<int>(std::floor(min_elements)));
        const int last_count = static_cast<int>(std::ceil(max_elements)) + 1;
        for (int count = first_count_; count <= last_count; ++count) {
            by_count_.push_back(count < 2 ? std::vector<double>{1.0} : window_at_centers(recipe.window, count));
        }
        return;
    }
    sample(recipe.window);
}

void SampledWindow::sample(const Window& window) {
    samples_.resize(window_intervals + 1);
    for (std::size_t i = 0; i <= window_intervals; ++i) {
        const double x = static_cast<double>(i) / static_cast<double>(window_intervals) - 0.5;
        samples_[i] = window_value(window, x, 2);
    }
    curve_.assign(samples_.begin(), samples_.end());
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
      min_m_(width_of(info.probe, min_elements(recipe, info))),
      max_m_(width_of(info.probe, max_elements(recipe, info))),
      window_(recipe, elements_across(info.probe, min_elements(recipe, info)),
              elements_across(info.probe, max_elements(recipe, info))) {
    const int channels = channel_columns(info);
    if (recipe.aperture == ApertureMode::constant && recipe.max_elements.value_or(channels) > channels) {
        throw InputError(place_of(recipe, "receive.max_elements"),
                         "a constant aperture of " +
                             counted(static_cast<std::size_t>(*recipe.max_elements), "element") +
                             " needs as many channels" + (info.probe.rows > 1 ? " in a row" : "") +
                             "; this recording has " + plain(channels) + ": lower it to that or leave it out");
    }
    if (has_rings(info.probe)) {
        for (const Element& ring : info.probe.elements) {
            rings_.push_back({ring.inner_m, ring.outer_m});
        }
    }
}

double Aperture::width_m(double depth_m) const {
    return f_number_ > 0.0 ? std::clamp(depth_m / f_number_, min_m_, max_m_) : max_m_;
}

double Aperture::weight(double width_m, double offset_m) const {
    const double half = 0.5 * width_m;
    const double low = std::max(offset_m - 0.5 * pitch_m_, -half);
    const double high = std::min(offset_m + 0.5 * pitch_m_, half);
    const double share = (high - low) / pitch_m_;
    return share > min_share ? share * window_(0.5 * (low + high) / width_m, width_m / pitch_m_) : 0.0;
}

void Aperture::weigh(double width_m, std::span<const double> offsets_m, bool normalize,
                     std::span<float> weights) const {
    double sum = 0.0;
    for (std::size_t i = 0; i < offsets_m.size(); ++i) {
        const double weight = this->weight(width_m, offsets_m[i]);
        weights[i] = static_cast<float>(weight);
        sum += weight;
    }
    if (normalize) {
        make_sum_one(weights.first(offsets_m.size()), sum);
    }
}

void Aperture::weigh_rings(double width_m, std::span<const int> rings, bool normalize, std::span<float> weights) const {
    const auto square = [](double x) { return x * x; };
    const double half = 0.5 * width_m;
    double sum = 0.0;
    for (std::size_t i = 0; i < rings.size(); ++i) {
        const auto [inner, outer] = rings_[static_cast<std::size_t>(rings[i])];
        const double inside = square(std::min(outer, half)) - square(inner);
        const double share = inside / (square(outer) - square(inner));
        double weight = 0.0;
        if (share > min_share) {
            const double radius = std::sqrt(square(inner) + 0.5 * inside);
            weight = share * window_(radius / width_m, width_m / pitch_m_);
        }
        weights[i] = static_cast<float>(weight);
        sum += weight;
    }
    if (normalize) {
        make_sum_one(weights.first(rings.size()), sum);
    }
}

double receive_aperture_m(const Recipe& recipe, const RecordingInfo& info, double depth_m) {
    const double most = width_of(info.probe, max_elements(recipe, info));
    if (recipe.aperture == ApertureMode::constant) {
        return most;
    }
    return std::clamp(depth_m / recipe.f_number, width_of(info.probe, min_elements(recipe, info)), most);
}

}  // namespace echoloom
