#pragma once
/// An array transducer as geometry: where each element is, which way it looks, how large it is.

#include <limits>
#include <string>
#include <vector>

#include "sim/array/pulse.h"
#include "sim/base/settings.h"
#include "sim/base/vector.h"

namespace echoloom {

enum class Baffle { rigid, soft };  ///< factor 1, or cos(theta): Selfridge, Kino & Khuri-Yakub 1980, from memory

/// A flat rectangular radiator. Its lateral axis is unit(y cross normal) (= +x for a flat array), its elevation axis
/// completes the right-handed frame (lateral, elevation, normal).
struct Element {
    Vec3 center_m = Vec3::Zero();
    Vec3 normal = Vec3::UnitZ();
    double width_m = 0.0;   ///< lateral
    double height_m = 0.0;  ///< elevation
    /// What is wrong with this one element, on transmit and again on receive. Never stored in a recording's geometry:
    /// a reconstruction does not know.
    double gain = 1.0;     ///< 0 for a dead element
    double delay_s = 0.0;  ///< phase error at the centre frequency, as a delay
};

struct Probe {
    std::string name;
    std::string kind = "linear";  ///< "linear"; curved, phased and annular arrays are to follow
    Baffle baffle = Baffle::rigid;
    double center_Hz = 0.0;
    double bandwidth_fraction = 0.0;                                     ///< two-way, half amplitude
    double elevation_focus_m = std::numeric_limits<double>::infinity();  ///< lens; infinite where there is none
    double pitch_m = 0.0;                                                ///< 0 where elements are not equally spaced
    std::vector<Element> elements;
    Pulse pulse;
    std::string source;  ///< exact TOML text

    double wavelength_m(double sound_speed_m_s) const { return sound_speed_m_s / center_Hz; }
};

/// Reads a probe from its settings (see sim/probes/ for every key). Throws InputError.
Probe read_probe(Settings settings);
/// By path or shipped name.
Probe load_probe(const std::string& path_or_name, std::span<const Override> overrides = {});

}  // namespace echoloom
