#pragma once
/// The text of a settings error: the range a number must keep, with the unit its key names.

#include <string>
#include <string_view>

#include "sim/base/settings.h"

namespace echoloom {

bool in_range(double value, const Range& range);

/// "a number more than 0, at most 50, in MHz".
std::string wanted_number(std::string_view key, const Range& range);
/// "a whole number from 1 to 1024".
std::string wanted_integer(std::string_view key, long long least, long long most);

/// The unit a key's ending names ("MHz" for center_MHz); empty where it names none.
std::string_view unit_of(std::string_view key);

}  // namespace echoloom
