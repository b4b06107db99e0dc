#include "recon/beamform/pixel_traces.h"

#include <omp.h>

#include <algorithm>

#include "recon/beamform/scan_kind.h"
#include "sim/base/parallel.h"

namespace echoloom {
namespace {

constexpr std::size_t bank_bytes = std::size_t{1} << 30;
constexpr std::size_t folded_bytes = std::size_t{2} << 30;
constexpr std::size_t read_bytes = std::size_t{8} << 20;  // fresh pages cost more than a barrier each

}  // namespace

bool folds(const RecordingInfo& info, const Recipe& recipe, const EventWeights& weights) {
    const auto& events = info.events;
    if (!weights.by_aperture() || recipe.focus != FocusMode::dynamic || events.size() != info.channels) {
        return false;
    }
    for (std::size_t event = 0; event < events.size(); ++event) {
        const std::size_t element = firing_element(info, event);
        if (events[event].receivers != events.front().receivers ||
            events[event].start_time_s != events.front().start_time_s || events[event].delay_s[element] != 0.0 ||
            events.front().receivers[event] != static_cast<int>(element)) {
            return false;
        }
    }
    return true;
}

PixelTraces::PixelTraces(const RecordingInfo& info, const Recipe& recipe, bool folded)
    : channels_(info.channels),
      event_samples_(info.channels * info.samples),
      trace_length_(info.samples),
      folded_(false),
      preparation_(info, recipe, TracePreparation::Form::pixels) {
    const std::size_t events = info.events.size();
    const std::size_t pairs = channels_ * (channels_ + 1) / 2;
    folded_ = folded && pairs * preparation_.row_floats() * sizeof(float) <= folded_bytes;
    const std::size_t event_bytes = channels_ * preparation_.row_floats() * sizeof(float);
    max_events_ = folded_ ? events : std::clamp<std::size_t>(bank_bytes / event_bytes, 1, events);
    max_read_ = std::clamp<std::size_t>(read_bytes / (event_samples_ * sizeof(float)), 1, max_events_);
    const std::size_t rows = folded_ ? pairs : max_events_ * channels_;
    bank_.resize(rows * preparation_.row_floats());
    recorded_.resize(max_read_ * event_samples_);
    for (int thread = 0; thread < omp_get_max_threads(); ++thread) {
        workspaces_.push_back(preparation_.workspace());
    }
}

void PixelTraces::load(const EventReader& read_event, std::size_t first_event, std::size_t count) {
    for (std::size_t first = 0; first < count; first += max_read_) {
        const std::size_t some = std::min(max_read_, count - first);
        for (std::size_t event = 0; event < some; ++event) {
            read_event(first_event + first + event,
                       std::span(recorded_).subspan(event * event_samples_, event_samples_));
        }
        if (folded_) {
            fold(first, some);
        } else {
            prepare(first * channels_, some * channels_);
        }
    }
    if (folded_) {
        prepare(0, row(0, channels_));
    }
}

/// Adds the traces of events to those of their pairs, which wait in the rows that they will be prepared into. Of a pair
/// the echo of the lower element comes first, as events do; each thread has the pairs of one upper element.
void PixelTraces::fold(std::size_t first_event, std::size_t count) {
    const auto trace_of = [&](std::size_t event, std::size_t channel) {
        return recorded_.data() + (event - first_event) * event_samples_ + channel * trace_length_;
    };
#pragma omp parallel for schedule(dynamic)
    for (std::size_t upper = 0; upper < channels_; ++upper) {
        for (std::size_t event = first_event; event < std::min(first_event + count, upper + 1); ++event) {
            std::copy_n(trace_of(event, upper), trace_length_, bank_row(row(event, upper)).data());
        }
        const bool comes = upper >= first_event && upper < first_event + count;
        for (std::size_t lower = 0; comes && lower < upper; ++lower) {
            const float* const from = trace_of(upper, lower);
            float* const to = bank_row(row(lower, upper)).data();
            for (std::size_t i = 0; i < trace_length_; ++i) {
                to[i] += from[i];
            }
        }
    }
}

/// Takes the traces of rows from where they were folded, else from what was recorded.
void PixelTraces::prepare(std::size_t first_row, std::size_t rows) {
    const auto threads = static_cast<int>(workspaces_.size());
    FirstFailure failure;
#pragma omp parallel for schedule(static) num_threads(threads)
    for (std::size_t i = 0; i < rows; ++i) {
        failure.run([&] {
            const auto to = bank_row(first_row + i);
            const float* const from = folded_ ? to.data() : recorded_.data() + i * trace_length_;
            preparation_.prepare({from, trace_length_}, to,
                                 workspaces_[static_cast<std::size_t>(omp_get_thread_num())]);
        });
    }
    failure.rethrow();
}

}  // namespace echoloom
