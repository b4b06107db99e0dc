#include "sim/import/acquired_recording.h"

#include <algorithm>
#include <cmath>
#include <numeric>

#include "sim/array/delay_law.h"
#include "sim/base/text.h"

namespace echoloom {

namespace {

NumberArray open_numbers(const NumberFile& file) {
    const std::string extension = file.file.extension().string();
    if (extension == ".npy") {
        return open_npy(file.file);
    }
    if (extension == ".mat") {
        return open_mat(file.file, file.variable);
    }
    throw InputError(file.place, "is neither a .npy nor a .mat file; save the table as one of these");
}

/// Events and elements of a table in a file, held to what there is.
std::vector<std::vector<double>> read_table(const NumberFile& file, std::size_t events, std::size_t elements,
                                            double unit) {
    const NumberArray array = open_numbers(file);
    const bool one_row = events == 1 && array.shape == std::vector{elements};
    if (!one_row && array.shape != std::vector{events, elements}) {
        throw InputError(file.place, "holds " + shape_text(array.shape) + " numbers; give " + std::to_string(events) +
                                         " x " + std::to_string(elements) +
                                         ", a row for each event and in it one for each element");
    }
    std::vector rows(events, std::vector<double>(elements));
    for (std::size_t event = 0; event < events; ++event) {
        for (std::size_t element = 0; element < elements; ++element) {
            const std::size_t row = one_row ? 0 : event * array.stride.front();
            rows[event][element] = array.at(row + element * array.stride.back()) * unit;
            if (!std::isfinite(rows[event][element])) {
                throw InputError(file.place, "event " + std::to_string(event + 1) + ", element index " +
                                                 std::to_string(element) +
                                                 " is not a finite number; silence an element by weight 0");
            }
        }
    }
    return rows;
}

std::vector<double> ideal_delays(const TransmitEvent& event, const Probe& probe, double sound_speed_m_s) {
    switch (event.kind) {
        case TransmitKind::focused:
            return focusing_delays(probe.elements, event.origin_m, event.focus_m, sound_speed_m_s);
        case TransmitKind::plane:
            return plane_delays(probe.elements, event.origin_m, event.direction, sound_speed_m_s);
        case TransmitKind::diverging:
            return diverging_delays(probe.elements, event.origin_m, event.focus_m, sound_speed_m_s);
        case TransmitKind::element:
            break;
    }
    return std::vector<double>(probe.elements.size(), 0.0);
}

/// Mean and root mean square about it of `sign` delay - ideal, over the elements that fire.
struct Offset {
    double mean_s = 0.0;
    double rms_s = 0.0;
};
Offset offset_from(const std::vector<double>& ideal_s, const TransmitEvent& event, double sign) {
    double weight = 0.0, sum = 0.0, squares = 0.0;
    for (std::size_t i = 0; i < ideal_s.size(); ++i) {
        if (event.weight[i] != 0.0) {
            weight += std::abs(event.weight[i]);
            sum += std::abs(event.weight[i]) * (sign * event.delay_s[i] - ideal_s[i]);
        }
    }
    const double mean = sum / weight;
    for (std::size_t i = 0; i < ideal_s.size(); ++i) {
        const double apart = sign * event.delay_s[i] - ideal_s[i] - mean;
        squares += std::abs(event.weight[i]) * apart * apart;
    }
    return {mean, std::sqrt(squares / weight)};
}

/// Own delays count from some instant of the acquisition; here that becomes the front's passage of the origin.
struct OwnDelays {
    std::vector<TransmitEvent> events;
    std::vector<double> offset_s;  ///< of the instant they counted from
    DelayFit fit;
};

OwnDelays own_delays(const Acquisition& acquisition) {
    const std::size_t count = acquisition.events.size();
    const std::size_t elements = acquisition.probe.elements.size();
    std::vector<std::vector<double>> delays, weights;
    if (acquisition.delays) {
        delays = read_table(*acquisition.delays, count, elements, 1e-6);
    }
    if (acquisition.weights) {
        weights = read_table(*acquisition.weights, count, elements, 1.0);
    }
    OwnDelays own;
    for (std::size_t i = 0; i < count; ++i) {
        TransmitEvent event = acquisition.events[i].event;
        if (event.delay_s.empty() && delays.empty()) {
            throw InputError(acquisition.events[i].place,
                             "this event has no delays; give delays_us, one for each of the " +
                                 std::to_string(elements) + " elements, or a delays_file for all events");
        }
        event.delay_s = event.delay_s.empty() ? delays[i] : event.delay_s;
        if (event.weight.empty()) {
            event.weight = weights.empty() ? std::vector<double>(elements, 1.0) : weights[i];
        }
        if (std::ranges::all_of(event.weight, [](double weight) { return weight == 0.0; })) {
            throw InputError(acquisition.events[i].place,
                             "every weight of this event is 0; some element must have fired");
        }
        for (double& delay : event.delay_s) {
            delay *= acquisition.negate_delays ? -1.0 : 1.0;
        }
        const std::vector<double> ideal = ideal_delays(event, acquisition.probe, acquisition.medium.sound_speed_m_s);
        const Offset offset = offset_from(ideal, event, 1.0);
        if (i == 0 || offset.rms_s > own.fit.worst_rms_s) {
            own.fit = {i, offset.rms_s, offset_from(ideal, event, -1.0).rms_s};
        }
        for (double& delay : event.delay_s) {
            delay -= offset.mean_s;
        }
        own.offset_s.push_back(-offset.mean_s);
        own.events.push_back(std::move(event));
    }
    return own;
}

std::vector<int> whole_elements(const std::vector<double>& elements, const Probe& probe, const Place& place) {
    std::vector<int> whole;
    for (const double element : elements) {
        if (element != std::floor(element) || element >= static_cast<double>(probe.elements.size())) {
            throw InputError(place, plain(element) + " is no element; give whole numbers from 0 to " +
                                        std::to_string(probe.elements.size() - 1));
        }
        whole.push_back(static_cast<int>(element));
    }
    return whole;
}

std::string counted_channels(std::size_t count) {
    return counted(count, "channel");
}

/// The element that each channel recorded in an event.
std::vector<int> receivers(const Acquisition& acquisition, const AcquiredSamples& samples, std::size_t event) {
    std::vector<int> found;
    Place place = acquisition.channel_elements_place;
    if (!acquisition.scan && !acquisition.events[event].receivers.empty()) {
        place = acquisition.events[event].place;
        found = whole_elements(acquisition.events[event].receivers, acquisition.probe, place);
    } else if (!acquisition.channel_elements.empty()) {
        found = whole_elements(acquisition.channel_elements, acquisition.probe, place);
    } else if (acquisition.scan && acquisition.scan->channels() == samples.channels) {
        return acquisition.scan->events[event].receivers;
    } else if (samples.channels == acquisition.probe.elements.size()) {
        found.resize(samples.channels);
        std::iota(found.begin(), found.end(), 0);
    } else {
        throw InputError(place,
                         "missing; the samples have " + counted_channels(samples.channels) + ", the probe \"" +
                             acquisition.probe.name + "\" has " + std::to_string(acquisition.probe.elements.size()) +
                             " elements" +
                             (acquisition.scan ? " and the scan records " + std::to_string(acquisition.scan->channels())
                                               : std::string()) +
                             ": give the element that each channel recorded, counted from 0");
    }
    if (found.size() != samples.channels) {
        throw InputError(place, "names " + counted(found.size(), "element") + ", and the samples have " +
                                    counted_channels(samples.channels) + "; give one for each");
    }
    return found;
}

void check_event_count(const Acquisition& acquisition, const AcquiredSamples& samples) {
    const std::size_t said = acquisition.scan ? acquisition.scan->events.size() : acquisition.events.size();
    if (said != samples.events) {
        throw InputError(acquisition.order_place,
                         "makes " + counted(samples.events, "event") + " of " + shape_text(samples.array.shape) +
                             " numbers, and " +
                             (acquisition.scan ? "the scan has " : "there are [[event]] entries for ") +
                             std::to_string(said) + "; correct whichever is wrong");
    }
    if (acquisition.first_sample_s.size() != 1 && acquisition.first_sample_s.size() != said) {
        throw InputError(acquisition.first_sample_place, "has " + std::to_string(acquisition.first_sample_s.size()) +
                                                             " times for " + std::to_string(said) +
                                                             " events; give one, or one for each event");
    }
    if (acquisition.clock_zero == ClockZero::delays && acquisition.scan) {
        throw InputError(acquisition.clock_place,
                         "is \"delays\", and a scan brings no delays of the acquisition's own; give "
                         "\"first_firing\" or \"front\"");
    }
}

}  // namespace

AcquiredSamples open_samples(const Acquisition& acquisition) {
    AcquiredSamples samples;
    samples.array =
        acquisition.raw ? open_raw(acquisition.samples.file, *acquisition.raw) : open_numbers(acquisition.samples);
    if (samples.array.shape.size() != acquisition.order.size()) {
        throw InputError(acquisition.order_place, "names " + std::to_string(acquisition.order.size()) +
                                                      " dimensions, and " + samples.array.name + " has " +
                                                      shape_text(samples.array.shape) +
                                                      " numbers; name each dimension once");
    }
    for (std::size_t i = 0; i < acquisition.order.size(); ++i) {
        const bool event = acquisition.order[i] == "event";
        const bool channel = acquisition.order[i] == "channel";
        (event ? samples.events : channel ? samples.channels : samples.samples) = samples.array.shape[i];
        (event     ? samples.event_stride
         : channel ? samples.channel_stride
                   : samples.sample_stride) = samples.array.stride[i];
    }
    if (samples.events == 0 || samples.channels == 0 || samples.samples == 0) {
        throw InputError({samples.array.name}, "holds no samples");
    }
    return samples;
}

double clock_zero_s(ClockZero zero, const TransmitEvent& event) {
    if (zero != ClockZero::first_firing) {
        return 0.0;
    }
    double first_s = no_limit;
    for (std::size_t i = 0; i < event.delay_s.size(); ++i) {
        first_s = event.weight[i] != 0.0 ? std::min(first_s, event.delay_s[i]) : first_s;
    }
    return first_s;
}

AcquisitionPlan plan_recording(const Acquisition& acquisition, const AcquiredSamples& samples) {
    check_event_count(acquisition, samples);
    AcquisitionPlan plan;
    RecordingInfo& info = plan.info;
    std::vector<double> offsets_s(samples.events, 0.0);
    if (acquisition.scan) {
        info = planned_recording(acquisition.probe, *acquisition.scan);
    } else {
        OwnDelays own = own_delays(acquisition);
        info.probe = acquisition.probe;
        info.events = std::move(own.events);
        offsets_s = std::move(own.offset_s);
        plan.fit = own.fit;
    }
    info.sampling_rate_Hz = acquisition.sampling_rate_Hz;
    info.samples = samples.samples;
    info.channels = samples.channels;
    info.medium = acquisition.medium;
    info.truth.points = acquisition.points;
    for (std::size_t i = 0; i < samples.events; ++i) {
        TransmitEvent& event = info.events[i];
        event.receivers = receivers(acquisition, samples, i);
        plan.clock_s.push_back(
            acquisition.clock_zero == ClockZero::delays ? offsets_s[i] : clock_zero_s(acquisition.clock_zero, event));
        event.start_time_s = acquisition.first_sample_s[acquisition.first_sample_s.size() == 1 ? 0 : i] +
                             plan.clock_s[i] - acquisition.pulse_center_s;
    }
    return plan;
}

}  // namespace echoloom
