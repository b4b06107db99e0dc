#pragma once
/// The echoes of one event of a ring array on a head: which scatterers it sees when and from where, and their sum.

#include <complex>
#include <span>
#include <vector>

#include "phantoms/phantom.h"
#include "sim/array/scan.h"
#include "sim/engine/propagation.h"
#include "sim/engine/real_transforms.h"
#include "sim/engine/ring_response.h"
#include "sim/engine/wave_spectrum.h"

namespace echoloom {

/// What is the same for every event of a run and one part of the pulse.
struct HeadContext {
    const Probe& probe;
    HeadMotion head;
    Medium medium;
    PulseBand band;
    double sampling_rate_Hz = 0.0;
    double tolerance = 0.0;
    EchoTable echoes;
};

/// A scatterer as the head sees it, radius and height over the rings, when it transmits and when it receives.
struct Sighting {
    double strength_m = 0.0;
    double send_r_m = 0.0, send_z_m = 0.0;
    double receive_r_m = 0.0, receive_z_m = 0.0;
    double min_s = 0.0;  ///< earliest and latest arrival, out and back, over all points of all rings
    double max_s = 0.0;
};

/// Sightings whose echoes share a window.
struct EchoGroup {
    std::size_t first = 0, count = 0;
    std::int64_t start = 0;  ///< sample of the event from which arrivals are counted
    int before = 0;          ///< the window starts this much earlier
    int length = 0;          ///< samples
    int first_bin = 0, bins = 0;
    double linear_attenuation = 0.0;  ///< Np/m/Hz
    double path_m = 0.0;              ///< one way, to which attenuation is referred
};

/// What one event has to add up.
struct EventEchoes {
    std::vector<Sighting> sightings;  ///< by group
    std::vector<EchoGroup> groups;
};

/// Leaves out what the event's samples cannot hold.
EventEchoes plan_event(const HeadContext& context, const TransmitEvent& event, std::size_t samples,
                       std::span<const Scatterer> scatterers);

/// Work space of one thread.
struct HeadScratch {
    /// An edge wave of some ring, or the plane wave straight from it.
    struct Wave {
        double weight, path_m, late_s;
    };
    RingTerms terms;
    std::vector<Wave> waves_now;
    WaveBatch batch;
    WaveScratch waves;
    std::vector<float> real, imaginary;              ///< of one sum over waves
    std::vector<std::complex<float>> transmit;       ///< [bin]
    std::vector<std::complex<float>> receive, sums;  ///< [ring, bin]
    std::vector<float> spectra, traces;
};

/// Adds the echoes to `samples` [ring, sample]. Transforms of every group's length must be prepared.
void add_event(const HeadContext& context, const TransmitEvent& event, const EventEchoes& echoes,
               const RealTransforms& transforms, HeadScratch& scratch, std::span<float> samples);

}  // namespace echoloom
