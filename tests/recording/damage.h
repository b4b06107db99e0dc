#pragma once
/// Files damaged on purpose: one bit flipped, or cut short. A reader may refuse with a clean error or give exactly what
/// was written, never anything else.

#include <functional>
#include <string>

namespace echoloom::recording_tests {

struct DamageCount {
    int refused = 0;
    int unharmed = 0;  ///< the byte was of no account
    int wrong = 0;     ///< values changed without a word
    int machine = 0;   ///< refused as if the machine were at fault
    std::string first_wrong;
};

/// `read` gives a fingerprint of all values of a file. Every `step`th byte has one bit flipped, which one depends on
/// the byte's place; and the file is cut at every `step`th length.
DamageCount flip_bits(const std::string& file, const std::string& scratch, std::size_t step,
                      const std::function<std::string(const std::string&)>& read);
DamageCount cut_short(const std::string& file, const std::string& scratch, std::size_t step,
                      const std::function<std::string(const std::string&)>& read);

}  // namespace echoloom::recording_tests
