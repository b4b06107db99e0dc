#include "sim/array/scan.h"

#include <array>
#include <cmath>

#include "sim/array/scan_events.h"
#include "sim/base/shipped.h"
#include "sim/base/text.h"

namespace echoloom {

namespace {

constexpr double mm = 1e-3;

/// The band is called ended where the spectrum is this far below its peak.
constexpr double band_end_level = 0.01;    // -40 dB
constexpr double samples_per_cycle = 2.2;  // at the band's end: 10 % above the sampling theorem's two

void read_sampling(Settings& settings, const Probe& probe, Scan& scan) {
    scan.sampling_rate_Hz = settings.number("sampling_MHz", positive(1000.0)) * 1e6;
    const double highest_Hz = pulse_highest_frequency(probe.pulse, band_end_level);
    if (scan.sampling_rate_Hz < samples_per_cycle * highest_Hz) {
        const double needed_MHz = std::ceil(samples_per_cycle * highest_Hz * 1e-5) / 10.0;
        settings.fail("sampling_MHz", "is " + plain(scan.sampling_rate_Hz * 1e-6) + ", too slow for the probe \"" +
                                          probe.name + "\", whose pulse reaches " + plain(highest_Hz * 1e-6) +
                                          " MHz (-40 dB); give at least " + plain(needed_MHz));
    }
    scan.max_depth_m = settings.number("depth_mm", positive(1000.0)) * mm;
    scan.min_depth_m = settings.number_or("min_depth_mm", 0.0, between(0.0, 1000.0)) * mm;
    if (scan.min_depth_m >= scan.max_depth_m) {
        settings.fail("min_depth_mm", "is " + plain(scan.min_depth_m / mm) + "; give less than depth_mm, which is " +
                                          plain(scan.max_depth_m / mm));
    }
    scan.sound_speed_m_s = settings.number_or("sound_speed_m_s", 1540.0, between(300.0, 8000.0));
    scan.noise_snr_dB = settings.number_if("noise_snr_dB", between(-60.0, 200.0));
    if (settings.has("quantization_bits")) {
        scan.quantization_bits = static_cast<int>(settings.integer("quantization_bits", 2, 24));
    }
}

/// An annular array is swept and nothing else; no other is.
void check_fit(const Settings& settings, const Probe& probe, const std::string& kind) {
    if ((probe.kind == "annular") != (kind == "swept")) {
        settings.fail("kind", probe.kind == "annular"
                                  ? "the probe \"" + probe.name + "\" is annular, for a rotating head; give \"swept\""
                                  : "\"swept\" is for an annular array on a rotating head, and the probe \"" +
                                        probe.name + "\" is " + probe.kind +
                                        "; give another kind, or an annular probe");
    }
}

void add_events(Settings& settings, const Probe& probe, const std::string& kind, Scan& scan) {
    if (kind == "focused") {
        add_focused_lines(settings, probe, scan);
    } else if (kind == "sector") {
        add_sector_lines(settings, probe, scan);
    } else if (kind == "plane_waves") {
        add_plane_waves(settings, probe, scan);
    } else if (kind == "diverging_waves") {
        add_diverging_waves(settings, probe, scan);
    } else if (kind == "swept") {
        add_swept_lines(settings, probe, scan);
    } else {
        add_single_elements(probe, scan);
    }
}

}  // namespace

Scan read_scan(Settings settings, const Probe& probe) {
    constexpr std::array<std::string_view, 6> kinds = {"focused",         "sector", "plane_waves",
                                                       "diverging_waves", "swept",  "full_matrix"};
    Scan scan;
    scan.source = settings.source_text();
    scan.name = settings.text_or("name", settings.file().stem().string());
    const std::string kind = settings.one_of("kind", kinds);
    check_fit(settings, probe, kind);
    read_sampling(settings, probe, scan);
    add_events(settings, probe, kind, scan);
    settings.finish();
    set_sample_times(probe, scan);
    return scan;
}

Scan load_scan(const std::string& path_or_name, const Probe& probe, std::span<const Override> overrides) {
    return read_scan(Settings::from_file(find_shipped(ShippedKind::scan, path_or_name), overrides), probe);
}

}  // namespace echoloom
