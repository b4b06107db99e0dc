#pragma once
/// What a TOML file states of acquired samples: which array, which transmit events, when, in what order.
/// Every key is explained in example.toml beside this file.

#include <optional>
#include <string>
#include <vector>

#include "sim/array/scan.h"
#include "sim/base/medium.h"
#include "sim/base/settings.h"
#include "sim/base/truth.h"
#include "sim/import/number_array.h"

namespace echoloom {

/// What the time of the first sample is counted from.
enum class ClockZero {
    first_firing,  ///< the first element fires: the trigger of most acquisition systems
    front,         ///< the wavefront passes the event's origin: the recording's own time zero
    delays         ///< the instant from which delays_us count
};

/// A file of numbers beside the TOML file.
struct NumberFile {
    std::filesystem::path file;
    std::string variable;  ///< of a .mat file; empty for the only one
    Place place;
};

/// A transmit event as the acquisition's own delays make it.
struct AcquiredEvent {
    TransmitEvent event;            ///< delays and weights empty where they come from a file
    Place place;                    ///< of the entry
    std::vector<double> receivers;  ///< empty: as Acquisition::channel_elements
};

struct Acquisition {
    Probe probe;
    std::optional<Scan> scan;           ///< or
    std::vector<AcquiredEvent> events;  ///< with
    std::optional<NumberFile> delays, weights;
    bool negate_delays = false;

    NumberFile samples;
    std::vector<std::string> order;  ///< "event", "channel", "sample", as the array's dimensions come
    std::optional<RawLayout> raw;    ///< of a file without a header
    std::vector<double> channel_elements;

    double sampling_rate_Hz = 0.0;
    std::vector<double> first_sample_s;  ///< one, or one for each event
    ClockZero clock_zero = ClockZero::first_firing;
    double pulse_center_s = 0.0;
    Medium medium;
    std::vector<TruePoint> points;
    Place channel_elements_place, first_sample_place, clock_place, order_place;
    std::string source;  ///< exact TOML text
};

/// Throws InputError; where values are missing, one that names them all and says what each should hold.
Acquisition read_acquisition(Settings settings);

}  // namespace echoloom
