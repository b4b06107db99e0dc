#pragma once
/// Enumerations as the names a file holds.

#include <algorithm>
#include <array>
#include <string>
#include <string_view>

#include "sim/array/scan.h"
#include "sim/base/truth.h"

namespace echoloom {

/// In the order of the enumerations; kinds of probes are text in memory too.
inline constexpr std::array<std::string_view, 4> transmit_kind_names = {"focused", "plane", "element", "diverging"};
inline constexpr std::array<std::string_view, 5> probe_kind_names = {"linear", "curved", "phased", "rows", "annular"};
inline constexpr std::array<std::string_view, 2> baffle_names = {"rigid", "soft"};
inline constexpr std::array<std::string_view, 4> region_shape_names = {"box", "cylinder", "sphere", "ellipsoid"};

template <typename Enumeration, std::size_t count>
std::string to_name(const std::array<std::string_view, count>& names, Enumeration value) {
    return std::string(names.at(static_cast<std::size_t>(value)));
}

}  // namespace echoloom
