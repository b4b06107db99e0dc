#pragma once
/// Places and names as the parts of a phantom's settings read them.

#include <set>
#include <string>

#include "sim/base/settings.h"
#include "sim/base/vector.h"

namespace echoloom {

inline constexpr double mm = 1e-3;
inline constexpr double farthest_mm = 1000.0;  ///< of anything in a phantom, along each axis

inline constexpr double max_candidates = 5e8;  ///< in one region, and in a whole phantom

/// A strength in dB re 1 mm, as a length; `fallback_dB` where it is not given.
double read_strength_m(Settings& settings, double fallback_dB);

/// [x, y, z] at any depth.
Vec3 read_position_m(Settings& settings, std::string_view key);

/// Refuses a depth that is not below the array's face.
void refuse_above_face(const Settings& settings, std::string_view key, double depth_m);

/// Names of regions, inclusions and sheets, each used once, since a measurement finds its target by name.
class Names {
  public:
    std::string read(Settings& settings, const std::string& fallback);

  private:
    std::set<std::string> used_;
};

}  // namespace echoloom
