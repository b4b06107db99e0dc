#include "sim/import/arrival.h"

#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>

#include "sim/array/face.h"

namespace echoloom {

namespace {

using Complex = std::complex<double>;

constexpr std::size_t max_traces = 2048;
constexpr double pulse_end = 3.5;         // standard deviations: 0.2 % of the peak
constexpr double weak_event = 0.3;        // of the strongest event's field at the point: outside the beam
constexpr double steps_per_period = 5.0;  // of the search; the envelope changes far less in one

/// A Gaussian pulse of the probe's band, analytic.
struct ModelPulse {
    explicit ModelPulse(const Probe& probe)
        : center_rad_s(2.0 * std::numbers::pi * probe.center_Hz),
          sigma_s(std::sqrt(2.0 * std::numbers::ln2) /
                  (std::numbers::pi * probe.bandwidth_fraction * probe.center_Hz)) {}
    Complex at(double time_s) const {
        const double along = time_s / sigma_s;
        return std::abs(along) > pulse_end ? Complex(0.0)
                                           : std::polar(std::exp(-0.5 * along * along), center_rad_s * time_s);
    }
    double center_rad_s;
    double sigma_s;
};

/// The wave of an event as it passes a point: when its envelope is largest, and its value then.
struct Passage {
    double time_s = 0.0;
    Complex field = 0.0;
};

Passage passage(const TransmitEvent& event, const Probe& probe, const ModelPulse& pulse, const Vec3& point_m,
                double speed_m_s, double sign) {
    struct Wavelet {
        double time_s, strength;
    };
    std::vector<Wavelet> wavelets;
    for (std::size_t i = 0; i < probe.elements.size(); ++i) {
        const double range_m = (point_m - probe.elements[i].center_m).norm();
        if (event.weight[i] != 0.0 && range_m > 0.0) {
            wavelets.push_back({sign * event.delay_s[i] + range_m / speed_m_s, event.weight[i] / range_m});
        }
    }
    Passage best;
    if (wavelets.empty()) {
        return best;
    }
    const auto [first, last] = std::ranges::minmax(wavelets, {}, &Wavelet::time_s);
    const double step_s = 0.25 * pulse.sigma_s;
    const auto steps = static_cast<int>((last.time_s - first.time_s) / step_s) + 1;
    for (int step = 0; step <= steps; ++step) {
        const double time_s = first.time_s + (last.time_s - first.time_s) * step / steps;
        Complex field = 0.0;
        for (const Wavelet& wavelet : wavelets) {
            field += wavelet.strength * pulse.at(time_s - wavelet.time_s);
        }
        if (std::abs(field) > std::abs(best.field)) {
            best = {time_s, field};
        }
    }
    return best;
}

/// A trace and when the point's echo should reach it.
struct Expected {
    std::size_t event = 0, channel = 0;
    double time_s = 0.0;  ///< on the event's own clock
    Complex field = 0.0;
};

/// The same column and row counted from the array's other end.
std::size_t mirrored(const Probe& probe, std::size_t element) {
    const auto rows = static_cast<std::size_t>(probe.rows);
    return (probe.elements.size() / rows - 1 - element / rows) * rows + element % rows;
}

class Search {
  public:
    Search(const AcquisitionPlan& plan, const Acquisition& acquisition, const AcquiredSamples& samples,
           const Vec3& point_m)
        : plan_(plan), acquisition_(acquisition), samples_(samples), point_m_(point_m), pulse_(plan.info.probe) {}

    std::vector<Expected> expected(bool negated, bool reversed) const;
    Reading read(const std::vector<Expected>& traces, bool negated, bool reversed) const;

  private:
    std::vector<Complex> correlate(const Expected& trace, double from_s, double step_s, std::size_t steps) const;

    const AcquisitionPlan& plan_;
    const Acquisition& acquisition_;
    const AcquiredSamples& samples_;
    Vec3 point_m_;
    ModelPulse pulse_;
};

std::vector<Expected> Search::expected(bool negated, bool reversed) const {
    const RecordingInfo& info = plan_.info;
    const double speed_m_s = info.medium.sound_speed_m_s;
    std::vector<Passage> passages;
    double strongest = 0.0;
    for (const TransmitEvent& event : info.events) {
        const Vec3 seen_m = info.head ? head_pose(*info.head, event.head_angle_rad).to_head(point_m_) : point_m_;
        passages.push_back(passage(event, info.probe, pulse_, seen_m, speed_m_s, negated ? -1.0 : 1.0));
        strongest = std::max(strongest, std::abs(passages.back().field));
    }
    std::vector<Expected> traces;
    for (std::size_t event = 0; event < passages.size(); ++event) {
        if (std::abs(passages[event].field) < weak_event * strongest) {
            continue;
        }
        const TransmitEvent& transmitted = info.events[event];
        const Vec3 seen_m = info.head ? head_pose(*info.head, transmitted.head_angle_rad).to_head(point_m_) : point_m_;
        double moved_s = 0.0;
        if (negated && acquisition_.clock_zero == ClockZero::first_firing) {
            // Were the delays negative, another element would have fired first, and the clock begun at another time.
            TransmitEvent other = transmitted;
            for (double& delay : other.delay_s) {
                delay = -delay;
            }
            moved_s = clock_zero_s(acquisition_.clock_zero, other) - plan_.clock_s[event];
        }
        for (std::size_t channel = 0; channel < info.channels; ++channel) {
            const auto receiver = static_cast<std::size_t>(transmitted.receivers[channel]);
            const Element& received = info.probe.elements[reversed ? mirrored(info.probe, receiver) : receiver];
            traces.push_back({event, channel,
                              passages[event].time_s + (seen_m - received.center_m).norm() / speed_m_s - moved_s,
                              passages[event].field / strongest});
        }
    }
    if (traces.size() > max_traces) {  // evenly spread ones
        std::vector<Expected> some;
        for (std::size_t i = 0; i < max_traces; ++i) {
            some.push_back(traces[i * traces.size() / max_traces]);
        }
        traces = std::move(some);
    }
    return traces;
}

/// The trace against the pulse, at equally spaced times.
std::vector<Complex> Search::correlate(const Expected& trace, double from_s, double step_s, std::size_t steps) const {
    const RecordingInfo& info = plan_.info;
    const double start_s = info.events[trace.event].start_time_s;
    const double rate_Hz = info.sampling_rate_Hz;
    const double half_s = pulse_end * pulse_.sigma_s;
    const double begin = std::max(0.0, std::floor((from_s - half_s - start_s) * rate_Hz));
    const double end = std::min(static_cast<double>(info.samples),
                                std::ceil((from_s + step_s * static_cast<double>(steps) + half_s - start_s) * rate_Hz));
    std::vector<Complex> found(steps, 0.0);
    if (!(end > begin)) {
        return found;
    }
    std::vector<float> values(static_cast<std::size_t>(end - begin));
    samples_.array.copy(trace.event * samples_.event_stride + trace.channel * samples_.channel_stride +
                            static_cast<std::size_t>(begin) * samples_.sample_stride,
                        samples_.sample_stride, values);
    double mean = 0.0;
    for (const float value : values) {
        mean += value / static_cast<double>(values.size());
    }
    for (std::size_t step = 0; step < steps; ++step) {
        const double at_s = from_s + step_s * static_cast<double>(step);
        const double first = std::ceil((at_s - half_s - start_s) * rate_Hz);
        const double last = std::floor((at_s + half_s - start_s) * rate_Hz);
        for (double n = std::max(first, begin); n <= std::min(last, end - 1.0); n += 1.0) {
            const double value = values[static_cast<std::size_t>(n - begin)] - mean;
            found[step] += value * std::conj(pulse_.at(start_s + n / rate_Hz - at_s));
        }
    }
    return found;
}

Reading Search::read(const std::vector<Expected>& traces, bool negated, bool reversed) const {
    const double step_s = 1.0 / (steps_per_period * plan_.info.probe.center_Hz);
    const auto steps = static_cast<std::size_t>(2.0 * arrival_reach_s / step_s) + 1;
    std::vector<Complex> sum(steps, 0.0);
    std::vector<double> power(steps, 0.0);
    double fields = 0.0;
    for (const Expected& trace : traces) {
        const auto found = correlate(trace, trace.time_s - arrival_reach_s, step_s, steps);
        for (std::size_t step = 0; step < steps; ++step) {
            sum[step] += std::conj(trace.field) * found[step];
            power[step] += std::norm(found[step]);
        }
        fields += std::norm(trace.field);
    }
    const auto best = static_cast<std::size_t>(
        std::ranges::max_element(sum, {}, [](const Complex& value) { return std::norm(value); }) - sum.begin());
    Reading reading;
    reading.delays_negated = negated;
    reading.channels_reversed = reversed;
    reading.sum = std::abs(sum[best]) / (fields > 0.0 ? fields : 1.0);
    reading.coherence = power[best] > 0.0 ? std::norm(sum[best]) / (power[best] * fields) : 0.0;
    double between = 0.0;  // a parabola through the three magnitudes about the largest
    if (best > 0 && best + 1 < steps) {
        const double left = std::abs(sum[best - 1]), middle = std::abs(sum[best]), right = std::abs(sum[best + 1]);
        const double bend = left - 2.0 * middle + right;
        between = bend < 0.0 ? 0.5 * (left - right) / bend : 0.0;
    }
    reading.late_s = (static_cast<double>(best) + between) * step_s - arrival_reach_s;
    return reading;
}

/// Delays that are no mirror image of themselves.
bool any_delays(const RecordingInfo& info) {
    constexpr double alike_s = 1e-9;
    return std::ranges::any_of(info.events, [&](const TransmitEvent& event) {
        double least = no_limit, most = -no_limit;
        for (std::size_t i = 0; i < event.delay_s.size(); ++i) {
            if (event.weight[i] != 0.0) {
                least = std::min(least, event.delay_s[i]);
                most = std::max(most, event.delay_s[i]);
            }
        }
        return most - least > alike_s;
    });
}

}  // namespace

bool Arrival::found() const {
    constexpr double agree = 0.3;  // echoes of other things and noise stay below; common practice, no source
    return as_stated.coherence >= agree ||
           std::ranges::any_of(others, [](const Reading& other) { return other.coherence >= agree; });
}

Arrival check_arrival(const AcquisitionPlan& plan, const Acquisition& acquisition, const AcquiredSamples& samples,
                      const Vec3& point_m) {
    const Search search(plan, acquisition, samples, point_m);
    Arrival arrival;
    arrival.point_m = point_m;
    const auto stated = search.expected(false, false);
    arrival.traces = stated.size();
    arrival.as_stated = search.read(stated, false, false);
    const bool can_negate = any_delays(plan.info);
    const bool can_reverse = plan.info.probe.kind != "annular" && plan.info.probe.elements.size() > 1;
    for (const bool negated : {false, true}) {
        for (const bool reversed : {false, true}) {
            const bool possible = (!negated || can_negate) && (!reversed || can_reverse);
            if ((negated || reversed) && possible) {
                arrival.others.push_back(search.read(search.expected(negated, reversed), negated, reversed));
            }
        }
    }
    return arrival;
}

}  // namespace echoloom
