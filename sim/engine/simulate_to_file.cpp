#include <algorithm>
#include <cmath>
#include <vector>

#include "sim/engine/noise.h"
#include "sim/engine/simulate.h"
#include "sim/recording/recording_writer.h"

namespace echoloom {

namespace {

RecordingInfo recording_info(const Phantom& phantom, const Probe& probe, const Scan& scan) {
    RecordingInfo info = planned_recording(probe, scan);
    info.medium = phantom.medium;
    info.truth = phantom.truth;
    info.source = {phantom.source, probe.source, scan.source, phantom.seed};
    return info;
}

/// Root mean square and largest magnitude of everything written so far.
struct Level {
    double squares = 0.0;
    double largest = 0.0;
    std::size_t count = 0;

    void take(std::span<const float> samples) {
        for (float sample : samples) {
            squares += static_cast<double>(sample) * static_cast<double>(sample);
            largest = std::max(largest, static_cast<double>(std::abs(sample)));
        }
        count += samples.size();
    }
    double rms() const { return count > 0 ? std::sqrt(squares / static_cast<double>(count)) : 0.0; }
};

/// Noise and quantization need the level of the whole recording, so they come in a second pass over the events. Full
/// scale is the largest echo plus four deviations of the noise.
void degrade(RecordingWriter& writer, const Phantom& phantom, const Scan& scan, const Level& level) {
    const double noise = scan.noise_snr_dB ? level.rms() * std::pow(10.0, -*scan.noise_snr_dB / 20.0) : 0.0;
    std::vector<float> samples(scan.channels() * scan.samples);
    for (std::size_t event = 0; event < scan.events.size(); ++event) {
        writer.read_event(event, samples);
        if (scan.noise_snr_dB) {
            add_noise(samples, noise, phantom.seed, event);
        }
        if (scan.quantization_bits) {
            quantize(samples, level.largest + 4.0 * noise, *scan.quantization_bits);
        }
        writer.rewrite_event(event, samples);
    }
}

}  // namespace

std::string simulate_to_file(const Phantom& phantom, const Probe& probe, const Scan& scan,
                             const EngineSettings& settings, const std::filesystem::path& path) {
    RecordingWriter writer(path, recording_info(phantom, probe, scan));
    Level level;
    simulate(phantom, probe, scan, settings, [&](std::size_t event, std::span<const float> samples) {
        level.take(samples);
        writer.write_event(event, samples);
    });
    if (scan.noise_snr_dB || scan.quantization_bits) {
        degrade(writer, phantom, scan, level);
    }
    return writer.finish();
}

}  // namespace echoloom
