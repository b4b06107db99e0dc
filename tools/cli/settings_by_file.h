#pragma once
/// `--set PREFIX.KEY=VALUE` of a command line, and whose settings they are.

#include <span>
#include <string>
#include <vector>

#include "sim/base/settings.h"

namespace echoloom {

/// Where the settings of one file go.
struct Owner {
    std::string prefix;  ///< "probe."
    std::vector<Override>* settings;
};

/// Sorts phantom.KEY=VALUE, probe.KEY=VALUE and so on. Throws InputError for a text that is no setting or has none of
/// the prefixes, with the one to write.
void share_out(const std::vector<std::string>& texts, std::span<const Owner> owners);

}  // namespace echoloom
