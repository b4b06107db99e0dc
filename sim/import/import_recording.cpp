#include "sim/import/import_recording.h"

#include <algorithm>
#include <cmath>

#include "sim/base/progress.h"
#include "sim/recording/recording_writer.h"

namespace echoloom {

namespace {

/// Largest magnitude of a whole-number type, 0 for real numbers.
double limit_of(NumberType type) {
    switch (type) {
        case NumberType::int8:
            return 127.0;
        case NumberType::int16:
            return 32767.0;
        case NumberType::int32:
            return 2147483647.0;
        case NumberType::float32:
        case NumberType::float64:
            break;
    }
    return 0.0;
}

void read_event(const AcquiredSamples& samples, std::size_t event, std::span<float> values) {
    for (std::size_t channel = 0; channel < samples.channels; ++channel) {
        const auto trace = values.subspan(channel * samples.samples, samples.samples);
        samples.read(event, channel, trace);
        const auto found = std::ranges::find_if(trace, [](float value) { return !std::isfinite(value); });
        if (found != trace.end()) {
            throw InputError({samples.array.name},
                             "event " + std::to_string(event + 1) + ", channel index " + std::to_string(channel) +
                                 ", sample index " + std::to_string(found - trace.begin()) +
                                 " is not a finite number; give finite samples, and correct samples.type or "
                                 "samples.byte_order where these are wrong");
        }
    }
}

}  // namespace

ImportReport import_recording(const Acquisition& acquisition, const std::optional<std::filesystem::path>& output,
                              bool quiet) {
    const AcquiredSamples samples = open_samples(acquisition);
    const AcquisitionPlan plan = plan_recording(acquisition, samples);
    ImportReport report;
    report.samples_name = samples.array.name;
    report.type = samples.array.type;
    report.fit = plan.fit;
    std::optional<RecordingWriter> writer;
    if (output) {
        writer.emplace(*output, plan.info);
    }
    SampleWatch watch(plan.info, limit_of(samples.array.type));
    std::vector<float> values(samples.channels * samples.samples);
    {
        Progress progress("importing", samples.events, quiet);
        for (std::size_t event = 0; event < samples.events; ++event) {
            read_event(samples, event, values);
            watch.take(event, values);
            if (writer) {
                writer->write_event(event, values);
            }
            progress.advance();
        }
    }
    report.checks = watch.finish();
    for (const TruePoint& point : acquisition.points) {
        report.arrivals.push_back(check_arrival(plan, acquisition, samples, point.position_m));
    }
    if (writer) {
        report.digest = writer->finish();
    }
    report.info = plan.info;
    return report;
}

}  // namespace echoloom
