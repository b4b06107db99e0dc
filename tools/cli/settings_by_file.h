#pragma once
/// KEY=VALUE words of a command line, and whose settings they are.

#include <span>
#include <string>
#include <vector>

#include "sim/base/settings.h"

namespace echoloom {

/// Throws InputError for a word that is none.
Override key_and_value(const std::string& text);

/// Where the settings of one file go.
struct Owner {
    std::string prefix;
    std::vector<Override>* settings;
};

/// Sorts phantom.KEY, probe.KEY and scan.KEY. Throws InputError for a key of nobody's.
void share_out(const std::vector<std::string>& texts, std::span<const Owner> owners);

}  // namespace echoloom
