#include "sim/array/probe.h"

#include <array>
#include <cmath>

#include "sim/array/impulse_response.h"
#include "sim/base/random.h"
#include "sim/base/shipped.h"
#include "sim/base/text.h"

namespace echoloom {

namespace {

constexpr double mm = 1e-3;
constexpr long long most_elements = 1024;

/// Equal elements along x, centred on the origin, looking along z.
std::vector<Element> flat_row(std::size_t count, double pitch_m, double width_m, double height_m) {
    std::vector<Element> elements(count);
    for (std::size_t i = 0; i < count; ++i) {
        const double x_m = (static_cast<double>(i) - 0.5 * static_cast<double>(count - 1)) * pitch_m;
        elements[i].center_m = Vec3(x_m, 0.0, 0.0);
        elements[i].width_m = width_m;
        elements[i].height_m = height_m;
    }
    return elements;
}

void read_faults(Settings settings, Probe& probe) {
    const auto last = static_cast<double>(probe.elements.size() - 1);
    const double gain_spread_dB = settings.number_or("gain_spread_dB", 0.0, between(0.0, 40.0));
    const double phase_spread_deg = settings.number_or("phase_spread_deg", 0.0, between(0.0, 180.0));
    const auto seed = static_cast<std::uint64_t>(settings.integer_or("seed", 1, 0, 1LL << 53));
    const CounterRandom gain_errors(seed, 1);
    const CounterRandom phase_errors(seed, 2);
    for (std::size_t i = 0; i < probe.elements.size(); ++i) {
        probe.elements[i].gain = std::pow(10.0, gain_spread_dB * gain_errors.normal(i) / 20.0);
        probe.elements[i].delay_s = phase_spread_deg / 360.0 / probe.center_Hz * phase_errors.normal(i);
    }
    for (const double index : settings.numbers_or("dead", {}, between(0.0, last))) {
        if (index != std::floor(index)) {
            settings.fail("dead", plain(index) + " is no element; give whole numbers from 0 to " + plain(last));
        }
        probe.elements[static_cast<std::size_t>(index)].gain = 0.0;
    }
}

}  // namespace

Probe read_probe(Settings settings) {
    constexpr std::array<std::string_view, 1> kinds = {"linear"};
    constexpr std::array<std::string_view, 2> baffles = {"rigid", "soft"};
    Probe probe;
    probe.source = settings.source_text();
    probe.name = settings.text_or("name", settings.file().stem().string());
    probe.kind = settings.one_of("kind", kinds);
    probe.baffle = settings.one_of_or("baffle", "rigid", baffles) == "soft" ? Baffle::soft : Baffle::rigid;
    probe.center_Hz = settings.number("center_MHz", between(0.05, 50.0)) * 1e6;
    probe.bandwidth_fraction = settings.number("bandwidth_percent", between(1.0, 199.0)) / 100.0;

    const auto count = static_cast<std::size_t>(settings.integer("elements", 1, most_elements));
    const double pitch_mm = settings.number("pitch_mm", positive(20.0));
    const double width_mm = settings.number("width_mm", positive(20.0));
    const double height_mm = settings.number("height_mm", positive(100.0));
    if (width_mm > pitch_mm) {
        settings.fail("width_mm", "the elements overlap: " + plain(width_mm) + " mm wide, " + plain(pitch_mm) +
                                      " mm apart; give at most the pitch");
    }
    probe.pitch_m = pitch_mm * mm;
    probe.elements = flat_row(count, probe.pitch_m, width_mm * mm, height_mm * mm);
    if (const auto focus_mm = settings.number_if("elevation_focus_mm", positive(1000.0))) {
        probe.elevation_focus_m = *focus_mm * mm;
    }

    probe.pulse = GaussianPulse{probe.center_Hz, probe.bandwidth_fraction};
    if (settings.has("impulse_response_file")) {
        probe.pulse = read_impulse_response(settings.file().parent_path() / settings.text("impulse_response_file"));
    }
    if (const auto faults = settings.table_if("faults")) {
        read_faults(*faults, probe);
    }
    settings.finish();
    return probe;
}

Probe load_probe(const std::string& path_or_name, std::span<const Override> overrides) {
    return read_probe(Settings::from_file(find_shipped(ShippedKind::probe, path_or_name), overrides));
}

}  // namespace echoloom
