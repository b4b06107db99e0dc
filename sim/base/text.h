#pragma once
/// Small helpers for the text of messages.

#include <cstddef>
#include <optional>
#include <span>
#include <string>
#include <string_view>

namespace echoloom {

/// The candidate nearest to `word` by edit distance, where one is near enough to be what was meant.
std::optional<std::string> nearest_word(std::string_view word, std::span<const std::string> candidates);

/// "did you mean 'x'?" or the list of candidates where none is near.
std::string suggestion(std::string_view word, std::span<const std::string> candidates);

/// A number as a person would write it: up to 6 significant digits, no trailing zeros.
std::string plain(double value);

/// "1 event", "2 events"; the noun takes a plain "s".
std::string counted(std::size_t n, std::string_view singular);

/// "1.4 GiB" and the like.
std::string human_bytes(double bytes);

}  // namespace echoloom
