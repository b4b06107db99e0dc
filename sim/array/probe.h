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

/// A flat radiator, rectangular unless it is a ring. Its lateral axis is unit(y cross normal) (= +x for a flat array),
/// its elevation axis completes the right-handed frame (lateral, elevation, normal).
struct Element {
    bool is_ring() const { return outer_m > 0.0; }

    Vec3 center_m = Vec3::Zero();
    Vec3 normal = Vec3::UnitZ();
    double width_m = 0.0;   ///< lateral
    double height_m = 0.0;  ///< elevation
    /// A ring about the normal instead of a rectangle: radii of its edges, the inner one 0 for a disc. `outer_m` is 0
    /// for a rectangle; width and height of a ring are its outer diameter.
    double inner_m = 0.0;
    double outer_m = 0.0;
    /// What is wrong with this one element, on transmit and again on receive. Never stored in a recording's geometry:
    /// a reconstruction does not know.
    double gain = 1.0;     ///< 0 for a dead element
    double delay_s = 0.0;  ///< phase error at the centre frequency, as a delay
};

struct Probe {
    std::string name;
    /// "linear", "curved" (convex, on an arc), "phased" (linear, for sectors from a point), "rows" (1.5-D: columns cut
    /// into a few rows along elevation), "annular" (rings on one head)
    std::string kind = "linear";
    Baffle baffle = Baffle::rigid;
    double center_Hz = 0.0;
    double bandwidth_fraction = 0.0;                                     ///< two-way, half amplitude
    double elevation_focus_m = std::numeric_limits<double>::infinity();  ///< lens; infinite where there is none
    double pitch_m = 0.0;   ///< along the face; 0 where elements are not equally spaced
    double radius_m = 0.0;  ///< of the arc of a curved array, whose centre is (0, 0, -radius); 0 for a flat face
    int rows = 1;           ///< along elevation; element = column * rows + row
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
