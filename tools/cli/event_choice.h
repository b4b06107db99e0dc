#pragma once
/// `--event`, which a person counts from 1.

#include <cstddef>
#include <string>

#include "sim/base/error.h"
#include "sim/base/text.h"

namespace echoloom {

/// From 0. Throws InputError for one that `owner` ("the scan "lines"") does not have.
inline std::size_t event_index(long long event, std::size_t count, const std::string& owner) {
    if (event < 1 || event > static_cast<long long>(count)) {
        throw InputError({"--event"}, "is " + std::to_string(event) + "; " + owner + " has " + counted(count, "event") +
                                          ", counted from 1" + (count > 1 ? " to " + std::to_string(count) : ""));
    }
    return static_cast<std::size_t>(event) - 1;
}

}  // namespace echoloom
