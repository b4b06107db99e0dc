#include "tests/recording/sample.h"

#include <cmath>
#include <limits>

#include "sim/base/random.h"
#include "sim/recording/recording_writer.h"
#include "sim/recording/tables.h"

namespace echoloom::recording_tests {

namespace {

/// Numbers that no two fields share.
class Numbers {
  public:
    double next(double least, double most) { return least + (most - least) * random_.uniform(index_++); }
    Vec3 place() { return {next(-0.1, 0.1), next(-0.1, 0.1), next(-0.1, 0.1)}; }
    Vec3 direction() { return Vec3(next(-0.5, 0.5), next(-0.5, 0.5), 1.0).normalized(); }

  private:
    CounterRandom random_{7, 1};
    std::uint64_t index_ = 0;
};

Probe small_probe(Numbers& numbers) {
    Probe probe;
    probe.name = "eight \u00b5-elements";
    probe.baffle = Baffle::soft;
    probe.center_Hz = 5.123456789e6;
    probe.bandwidth_fraction = 0.612345;
    probe.pitch_m = 0.3e-3;
    probe.pulse = SampledPulse{1e8, -1.23e-7, {0.0, 0.5, -1.0, 0.25}};
    for (int i = 0; i < 8; ++i) {
        Element element;
        element.center_m = numbers.place();
        element.normal = numbers.direction();
        element.width_m = numbers.next(1e-4, 3e-4);
        element.height_m = numbers.next(1e-3, 5e-3);
        probe.elements.push_back(element);
    }
    return probe;
}

std::vector<TransmitEvent> small_events(Numbers& numbers) {
    std::vector<TransmitEvent> events(3);
    for (int i = 0; i < 3; ++i) {
        TransmitEvent& event = events[static_cast<std::size_t>(i)];
        event.kind = static_cast<TransmitKind>(i);
        event.origin_m = numbers.place();
        event.direction = numbers.direction();
        if (event.kind == TransmitKind::focused) {
            event.focus_m = numbers.place();
        }
        for (int element = 0; element < 8; ++element) {
            event.delay_s.push_back(numbers.next(-1e-6, 1e-6));
            event.weight.push_back(numbers.next(0.0, 1.0));
        }
        event.receivers = {i, i + 1, i + 2, 7 - i};
        event.start_time_s = numbers.next(-1e-6, 1e-5);
        event.line = 10 * i;
    }
    return events;
}

Truth small_truth(Numbers& numbers) {
    Truth truth;
    truth.points = {{numbers.place(), 1e-3}, {numbers.place(), -2.5e-4}};
    const auto size = [&] { return Vec3(numbers.next(0.0, 0.01), numbers.next(0.0, 0.01), numbers.next(0.0, 0.01)); };
    truth.regions = {
        {"slab", RegionShape::box, numbers.place(), size(), 0.0, false},
        {"void", RegionShape::cylinder, numbers.place(), size(), -std::numeric_limits<double>::infinity(), true},
        {"", RegionShape::ellipsoid, numbers.place(), size(), 3.25, true}};
    return truth;
}

}  // namespace

Sample small_sample() {
    Numbers numbers;
    Sample sample;
    RecordingInfo& info = sample.info;
    info.probe = small_probe(numbers);
    info.events = small_events(numbers);
    info.truth = small_truth(numbers);
    info.medium = {1480.25, 0.53, 1.07, true};
    info.sampling_rate_Hz = 41.25e6;
    info.channels = 4;
    info.samples = 25;
    info.source = {"# a phantom\nname = \"\u00e9\"\n", "kind = \"linear\"\n", "# a scan", 0xfedcba9876543210ULL};
    info.probe.source = info.source.probe;
    for (std::size_t event = 0; event < info.events.size(); ++event) {
        std::vector<float> samples;
        for (std::size_t i = 0; i < info.channels * info.samples; ++i) {
            samples.push_back(static_cast<float>(numbers.next(-1.0, 1.0)));
        }
        samples[3] = std::numeric_limits<float>::denorm_min();
        samples[4] = -0.0F;
        sample.events.push_back(samples);
    }
    return sample;
}

Sample curved_sample() {
    Sample sample = small_sample();
    sample.info.probe.kind = "curved";
    sample.info.probe.radius_m = 0.0612345;
    sample.info.scan_depth_m = 0.123456;
    return sample;
}

Sample rows_sample() {
    Sample sample = small_sample();
    sample.info.truth.sheets = {{"steep", Vec3(1e-3, -2e-3, 0.0345), 0.0101, 0.0123, 0.785},
                                {"", Vec3(0.0, 0.0, 0.05), 0.002, 0.003, -0.1}};
    sample.info.probe.kind = "rows";
    sample.info.probe.rows = 2;
    sample.info.events[1].kind = TransmitKind::diverging;
    sample.info.events[1].focus_m = Vec3(1e-3, 0.0, -0.0123);
    return sample;
}

Sample swept_sample() {
    Sample sample = small_sample();
    Probe& probe = sample.info.probe;
    probe.kind = "annular";
    probe.baffle = Baffle::rigid;
    for (std::size_t ring = 0; ring < probe.elements.size(); ++ring) {
        Element& element = probe.elements[ring];
        element.center_m = Vec3::Zero();
        element.normal = Vec3::UnitZ();
        element.inner_m = static_cast<double>(ring) * 1.0123e-3;
        element.outer_m = element.inner_m + 0.9e-3;
        element.width_m = element.height_m = 2.0 * element.outer_m;
    }
    sample.info.head = HeadMotion{0.0081234, 314.159};
    for (TransmitEvent& event : sample.info.events) {
        event.head_angle_rad = 0.01 * event.line - 0.1;
    }
    sample.info.scan_depth_m = 0.0987654;
    return sample;
}

std::string write(const Sample& sample, const std::filesystem::path& path) {
    RecordingWriter writer(path, sample.info);
    for (std::size_t event = 0; event < sample.events.size(); ++event) {
        writer.write_event(event, sample.events[event]);
    }
    return writer.finish();
}

std::string fingerprint(const RecordingInfo& info, std::span<const std::vector<float>> events) {
    Sha256 digest;
    const auto take_text = [&](const std::string& text) {
        digest.update(std::as_bytes(std::span(text.c_str(), text.size() + 1)));
    };
    for (const auto& samples : events) {
        digest.update(std::as_bytes(std::span(samples)));
    }
    for (const auto& table : background_tables(info)) {
        if (const auto* numbers = std::get_if<std::vector<double>>(&table.values)) {
            digest.update(std::as_bytes(std::span(*numbers)));
        } else if (const auto* integers = std::get_if<std::vector<std::int32_t>>(&table.values)) {
            digest.update(std::as_bytes(std::span(*integers)));
        } else {
            for (const auto& text : std::get<std::vector<std::string>>(table.values)) {
                take_text(text);
            }
        }
    }
    take_text(info.content_digest);
    take_text(info.program_version);
    take_text(std::to_string(info.channels) + ' ' + std::to_string(info.samples));
    return content_digest(std::move(digest), info);
}

std::string fingerprint(const std::filesystem::path& path) {
    RecordingReader reader(path);
    std::vector<std::vector<float>> events;
    for (std::size_t event = 0; event < reader.info().events.size(); ++event) {
        events.emplace_back(reader.info().channels * reader.info().samples);
        reader.read_event(event, events.back());
    }
    return fingerprint(reader.info(), events);
}

}  // namespace echoloom::recording_tests
