#include "sim/import/sample_checks.h"

#include <algorithm>
#include <cmath>
#include <complex>
#include <limits>
#include <numbers>

namespace echoloom {

namespace {

constexpr std::size_t traces_for_band = 32;
constexpr std::size_t telling_repeats = 2;
/// Whole numbers smaller than this are so coarse that a round peak is flat.
constexpr double min_counts = 100.0;

/// Power at one frequency, by Goertzel's recurrence (G. Goertzel, Amer. Math. Monthly 65, 34, 1958, from memory).
double power_at(std::span<const float> trace, double mean, double cycles_per_sample) {
    const double turn = 2.0 * std::cos(2.0 * std::numbers::pi * cycles_per_sample);
    double last = 0.0, before = 0.0;
    for (const float value : trace) {
        const double next = value - mean + turn * last - before;
        before = last;
        last = next;
    }
    return last * last + before * before - turn * last * before;
}

}  // namespace

SampleWatch::SampleWatch(const RecordingInfo& info, double type_limit)
    : info_(info), type_limit_(type_limit), sums_(info.probe.elements.size()) {
    high_.value = low_.value = -std::numeric_limits<float>::infinity();
    keep_every_ = std::max<std::size_t>(1, info.events.size() * info.channels / traces_for_band);
}

/// A trace that goes as far as any before it is looked at for flat peaks; one that goes further makes all before it
/// round.
void SampleWatch::watch_end(std::size_t event, std::span<const float> trace, float sign, End& end) const {
    float largest = -std::numeric_limits<float>::infinity();
    for (const float value : trace) {
        largest = std::max(largest, sign * value);
    }
    if (largest < end.value) {
        return;
    }
    if (largest > end.value) {
        end = {largest, 0, 0, 0.0, 0.0};
    }
    const bool whole = type_limit_ > 0.0;
    const bool at_limit = whole && std::abs(largest) >= type_limit_;
    if (whole && std::abs(largest) < min_counts) {
        return;
    }
    std::size_t run = 0;
    bool flat = false;
    for (std::size_t i = 0; i < trace.size(); ++i) {
        run = sign * trace[i] == largest ? run + 1 : 0;
        if (run < (at_limit ? 1U : 2U)) {
            continue;
        }
        const double time_s = info_.events[event].start_time_s + static_cast<double>(i) / info_.sampling_rate_Hz;
        end.first_s = end.repeats == 0 ? time_s : std::min(end.first_s, time_s);
        end.last_s = end.repeats == 0 ? time_s : std::max(end.last_s, time_s);
        end.repeats += at_limit ? telling_repeats : 1;
        flat = true;
    }
    end.traces += flat ? 1 : 0;
}

void SampleWatch::take(std::size_t event, std::span<const float> samples) {
    for (std::size_t channel = 0; channel < info_.channels; ++channel) {
        const auto trace = samples.subspan(channel * info_.samples, info_.samples);
        Sums& sums = sums_[static_cast<std::size_t>(info_.events[event].receivers[channel])];
        for (const float value : trace) {
            sums.sum += value;
            sums.squares += static_cast<double>(value) * value;
        }
        sums.count += static_cast<double>(trace.size());
        const auto [least, most] = std::ranges::minmax(trace);
        if (least < most) {  // a constant is flat everywhere and cut nowhere
            watch_end(event, trace, 1.0F, high_);
            watch_end(event, trace, -1.0F, low_);
        } else {
            high_.value = std::max(high_.value, most);
            low_.value = std::max(low_.value, -least);
        }
        if (taken_ % keep_every_ == 0 && kept_.size() < traces_for_band) {
            kept_.emplace_back(trace.begin(), trace.end());
        }
        ++taken_;
    }
}

/// Middle of what lies within 10 dB of the strongest frequency.
double SampleWatch::center_Hz() const {
    constexpr int steps = 256;
    constexpr double within = 0.1;
    std::vector<double> power(steps, 0.0);
    for (const auto& trace : kept_) {
        double mean = 0.0;
        for (const float value : trace) {
            mean += value / static_cast<double>(trace.size());
        }
        for (int step = 1; step < steps; ++step) {
            power[static_cast<std::size_t>(step)] += power_at(trace, mean, 0.5 * step / steps);
        }
    }
    const double most = *std::ranges::max_element(power);
    double sum = 0.0, moment = 0.0;
    for (int step = 1; step < steps; ++step) {
        const double value = power[static_cast<std::size_t>(step)];
        if (value >= within * most) {
            sum += value;
            moment += value * step;
        }
    }
    return sum > 0.0 ? 0.5 * moment / sum / steps * info_.sampling_rate_Hz : 0.0;
}

SampleChecks SampleWatch::finish() const {
    SampleChecks checks;
    checks.traces = info_.events.size() * info_.channels;
    checks.most = high_.value;
    checks.least = -low_.value;
    std::vector<double> levels;
    for (std::size_t i = 0; i < sums_.size(); ++i) {
        if (sums_[i].count > 0.0) {
            const double mean = sums_[i].sum / sums_[i].count;
            const double rms = std::sqrt(std::max(0.0, sums_[i].squares / sums_[i].count - mean * mean));
            checks.elements.push_back({static_cast<int>(i), rms, mean});
            levels.push_back(rms);
        }
    }
    std::ranges::nth_element(levels, levels.begin() + static_cast<std::ptrdiff_t>(levels.size() / 2));
    checks.median_rms = levels[levels.size() / 2];
    for (const ElementLevel& element : checks.elements) {
        if (element.rms <= dead_below * checks.median_rms) {
            checks.dead.push_back(element);
            continue;
        }
        if (element.rms <= weak_below * checks.median_rms) {
            checks.weak.push_back(element);
        }
        if (std::abs(element.mean) > checks.worst_offset * element.rms) {
            checks.worst_offset = std::abs(element.mean) / element.rms;
            checks.worst_offset_element = element.element;
        }
    }
    for (const End* end : {&high_, &low_}) {
        if (end->repeats < telling_repeats) {
            continue;
        }
        Clipping found{end->traces, std::abs(static_cast<double>(end->value)), end->first_s, end->last_s};
        if (const auto& other = checks.clipping) {
            found = {std::max(found.traces, other->traces), std::max(found.at, other->at),
                     std::min(found.first_s, other->first_s), std::max(found.last_s, other->last_s)};
        }
        checks.clipping = found;
    }
    if (checks.median_rms > 0.0) {
        checks.center_Hz = center_Hz();
    }
    return checks;
}

}  // namespace echoloom
