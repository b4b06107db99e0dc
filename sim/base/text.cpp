#include "sim/base/text.h"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <vector>

namespace echoloom {

namespace {

std::string lower(std::string_view word) {
    std::string result(word);
    std::ranges::transform(result, result.begin(),
                           [](char c) { return (c >= 'A' && c <= 'Z') ? static_cast<char>(c - 'A' + 'a') : c; });
    return result;
}

/// Edit distance with neighbouring letters swapped counting as one step (optimal string alignment).
std::size_t edit_distance(std::string_view a, std::string_view b) {
    std::vector<std::size_t> before_last(b.size() + 1);
    std::vector<std::size_t> last(b.size() + 1);
    std::vector<std::size_t> row(b.size() + 1);
    for (std::size_t j = 0; j <= b.size(); ++j) {
        last[j] = j;
    }
    for (std::size_t i = 1; i <= a.size(); ++i) {
        row[0] = i;
        for (std::size_t j = 1; j <= b.size(); ++j) {
            row[j] = std::min({last[j] + 1, row[j - 1] + 1, last[j - 1] + (a[i - 1] == b[j - 1] ? 0U : 1U)});
            if (i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1]) {
                row[j] = std::min(row[j], before_last[j - 2] + 1);
            }
        }
        std::swap(before_last, last);
        std::swap(last, row);
    }
    return last[b.size()];
}

/// "pitch" for "pitch_mm" and the reverse: the commonest slip is a forgotten unit, longer than most misspellings.
bool differs_by_ending(std::string_view word, std::string_view candidate) {
    const std::string_view shorter = word.size() < candidate.size() ? word : candidate;
    const std::string_view longer = word.size() < candidate.size() ? candidate : word;
    return shorter.size() >= 3 && longer.starts_with(shorter) && longer.substr(shorter.size()).starts_with('_');
}

}  // namespace

std::optional<std::string> nearest_word(std::string_view word, std::span<const std::string> candidates) {
    const std::string wanted = lower(word);
    std::optional<std::string> best;
    std::size_t best_distance = 0;
    for (const std::string& candidate : candidates) {
        const std::string offered = lower(candidate);
        const std::size_t letters = std::min(wanted.size(), offered.size());
        const std::size_t limit = letters < 3 ? 0 : letters / 3;
        std::size_t distance = edit_distance(wanted, offered);
        if (differs_by_ending(wanted, offered)) {
            distance = std::min(distance, limit);
        }
        if (distance <= limit && (!best || distance < best_distance)) {
            best = candidate;
            best_distance = distance;
        }
    }
    return best;
}

std::string suggestion(std::string_view word, std::span<const std::string> candidates) {
    if (const auto nearest = nearest_word(word, candidates)) {
        return "did you mean '" + *nearest + "'?";
    }
    if (candidates.empty()) {
        return "none is known here";
    }
    std::string list = "choose from";
    for (std::size_t i = 0; i < candidates.size(); ++i) {
        list += (i == 0 ? " " : ", ") + candidates[i];
    }
    return list;
}

std::string plain(double value) {
    std::array<char, 64> buffer{};
    const bool whole = std::abs(value) < 1e15 && value == std::trunc(value);
    const auto result =
        whole ? std::to_chars(buffer.data(), buffer.data() + buffer.size(), value, std::chars_format::fixed)
              : std::to_chars(buffer.data(), buffer.data() + buffer.size(), value, std::chars_format::general, 6);
    return {buffer.data(), result.ptr};
}

std::string counted(std::size_t n, std::string_view singular) {
    return std::to_string(n) + ' ' + std::string(singular) + (n == 1 ? "" : "s");
}

std::string human_bytes(double bytes) {
    constexpr std::array<const char*, 6> units = {"bytes", "KiB", "MiB", "GiB", "TiB", "PiB"};
    std::size_t unit = 0;
    while (std::abs(bytes) >= 1024.0 && unit + 1 < units.size()) {
        bytes /= 1024.0;
        ++unit;
    }
    const double shown = (unit == 0 || std::abs(bytes) >= 100.0) ? std::round(bytes) : std::round(bytes * 10.0) / 10.0;
    return plain(shown) + ' ' + units[unit];
}

}  // namespace echoloom
