#pragma once
/// Cells of a comma-separated file (RFC 4180).

#include <optional>
#include <string>
#include <string_view>

namespace echoloom {

/// In double quotes, those inside it doubled.
std::string csv_word(std::string_view text);
/// Seven significant digits; empty where there is no number.
std::string csv_number(std::optional<double> value);

}  // namespace echoloom
