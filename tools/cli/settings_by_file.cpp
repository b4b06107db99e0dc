#include "tools/cli/settings_by_file.h"

#include "sim/base/error.h"

namespace echoloom {

namespace {

Override key_and_value(const std::string& text) {
    const std::size_t equals = text.find('=');
    if (equals == std::string::npos || equals == 0) {
        throw InputError({"--set", 0, text}, "not a setting; write KEY=VALUE");
    }
    return {text.substr(0, equals), text.substr(equals + 1)};
}

/// "probe.pitch_mm=0.3 or scan.pitch_mm=0.3": what was meant, with each prefix.
std::string prefixed(const std::string& text, std::span<const Owner> owners) {
    std::string choices;
    for (const Owner& owner : owners) {
        choices += (choices.empty() ? "" : &owner == &owners.back() ? " or " : ", ") + owner.prefix + text;
    }
    return choices;
}

}  // namespace

void share_out(const std::vector<std::string>& texts, std::span<const Owner> owners) {
    for (const std::string& text : texts) {
        const Override change = key_and_value(text);
        bool taken = false;
        for (const Owner& owner : owners) {
            if (change.key.starts_with(owner.prefix)) {
                owner.settings->push_back({change.key.substr(owner.prefix.size()), change.value, owner.prefix});
                taken = true;
            }
        }
        if (!taken) {
            throw InputError({"--set", 0, change.key},
                             "does not begin with the name of its file; write " + prefixed(text, owners));
        }
    }
}

}  // namespace echoloom
