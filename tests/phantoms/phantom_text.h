#pragma once
/// Phantoms from text, and all the scatterers of one, for the tests of this folder.

#include <string>
#include <vector>

#include "phantoms/phantom.h"

namespace echoloom {

inline constexpr double mm = 1e-3;

/// `body` after a line of seed and two of medium.
inline Phantom phantom_from(const std::string& body, std::vector<Override> overrides = {}) {
    return read_phantom(
        Settings::from_text("seed = 7\n[medium]\nsound_speed_m_s = 1540.0\n" + body, "test.toml", overrides));
}

inline std::vector<Scatterer> scatterers_in(const Phantom& phantom, const Box& window) {
    std::vector<Scatterer> all;
    for_each_scatterer(phantom, window,
                       [&](std::span<const Scatterer> some) { all.insert(all.end(), some.begin(), some.end()); });
    return all;
}

inline std::vector<Scatterer> all_scatterers(const Phantom& phantom) {
    return scatterers_in(phantom, phantom.bounds());
}

}  // namespace echoloom
