#pragma once
/// Small arrays, phantoms and scans for tests of the engine.

#include <string>
#include <vector>

#include "phantoms/phantom.h"
#include "sim/array/probe.h"
#include "sim/array/scan.h"
#include "sim/base/settings.h"
#include "sim/engine/simulate.h"

namespace echoloom::scenes {

inline Probe array(int elements = 40, const std::string& more = "") {
    return read_probe(Settings::from_text("kind = \"linear\"\nelements = " + std::to_string(elements) +
                                              "\npitch_mm = 0.3\nwidth_mm = 0.27\nheight_mm = 5.0\n"
                                              "elevation_focus_mm = 30.0\ncenter_MHz = 5.0\n"
                                              "bandwidth_percent = 60.0\nbaffle = \"rigid\"\n" +
                                              more,
                                          "array"));
}

inline Scan scan(const Probe& probe, const std::string& text) {
    return read_scan(Settings::from_text(text + "\nsampling_MHz = 40.0\ndepth_mm = 20.0\n", "scan"), probe);
}

inline Scan full_matrix(const Probe& probe) {
    return scan(probe, "kind = \"full_matrix\"");
}

inline Scan focused(const Probe& probe, const std::string& more = "") {
    return scan(probe,
                "kind = \"focused\"\nfocus_depth_mm = 12.0\ntransmit_elements = 12\nreceive_elements = 16\n" + more);
}

inline Phantom phantom(double attenuation_dB_cm_MHz) {
    Phantom out;
    out.medium = {1540.0, attenuation_dB_cm_MHz, 1.0, false};
    return out;
}

/// Some thousand random scatterers over a few cells, some of which are crowded.
inline Phantom crowd() {
    Phantom out = phantom(0.5);
    SpeckleRegion region;
    region.shape = {RegionShape::box, Vec3(0.0, 0.0, 10e-3), Vec3(3e-3, 2e-3, 3e-3)};
    region.density_per_mm3 = 20.0;
    region.strength_m = 1e-4;
    out.regions.push_back(region);
    return out;
}

/// A phantom of fixed points alone.
inline Phantom points(const std::vector<Scatterer>& scatterers, double attenuation_dB_cm_MHz = 0.5) {
    Phantom out = phantom(attenuation_dB_cm_MHz);
    for (const Scatterer& s : scatterers) {
        out.targets.push_back({Vec3(s.x_m, s.y_m, s.z_m), s.strength_m, 0.0, 1});
    }
    return out;
}

/// All samples of a run, [event][channel, sample] one after another.
inline std::vector<float> echoes(const Phantom& phantom, const Probe& probe, const Scan& scan,
                                 EngineSettings settings = {}) {
    settings.quiet = true;
    std::vector<float> all;
    simulate(phantom, probe, scan, settings, [&](std::size_t, std::span<const float> samples) {
        all.insert(all.end(), samples.begin(), samples.end());
    });
    return all;
}

/// |a - b| over |b| in the L2 norm.
inline double relative_error(std::span<const float> a, std::span<const float> b) {
    double difference = 0.0;
    double norm = 0.0;
    for (std::size_t i = 0; i < a.size(); ++i) {
        const double d = static_cast<double>(a[i]) - static_cast<double>(b[i]);
        difference += d * d;
        norm += static_cast<double>(b[i]) * static_cast<double>(b[i]);
    }
    return std::sqrt(difference / norm);
}

}  // namespace echoloom::scenes
