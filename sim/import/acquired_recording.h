#pragma once
/// The recording that an acquisition's settings and its array of samples make: which event is which, when each began.

#include "sim/import/acquisition_settings.h"
#include "sim/recording/recording.h"

namespace echoloom {

/// Samples as events: where each number of [event, channel, sample] lies.
struct AcquiredSamples {
    NumberArray array;
    std::size_t events = 1, channels = 0, samples = 0;
    std::size_t event_stride = 0, channel_stride = 0, sample_stride = 0;

    void read(std::size_t event, std::size_t channel, std::span<float> values) const {
        array.copy(event * event_stride + channel * channel_stride, sample_stride, values);
    }
};
AcquiredSamples open_samples(const Acquisition& acquisition);

/// How far the acquisition's own delays are from those of an ideal front of the stated kind, once their common offset
/// is out.
struct DelayFit {
    std::size_t worst_event = 0;
    double worst_rms_s = 0.0;
    double negated_rms_s = 0.0;  ///< of the same event, were all its delays negative
};

struct AcquisitionPlan {
    RecordingInfo info;
    std::optional<DelayFit> fit;  ///< where the acquisition gave delays of its own
    /// From the front's passage of the origin to the clock's zero, as subtracted, [event].
    std::vector<double> clock_s;
};

/// Throws InputError where the numbers of events, channels and elements disagree.
AcquisitionPlan plan_recording(const Acquisition& acquisition, const AcquiredSamples& samples);

/// Where the clock's zero lies on an event's own time, which is zero as the front passes the origin.
double clock_zero_s(ClockZero zero, const TransmitEvent& event);

}  // namespace echoloom
