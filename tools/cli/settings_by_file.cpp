#include "tools/cli/setting_words.h"

#include "sim/base/error.h"

namespace echoloom {

Override key_and_value(const std::string& text) {
    const std::size_t equals = text.find('=');
    if (equals == std::string::npos || equals == 0) {
        throw InputError({"--set", 0, text}, "not a setting; write KEY=VALUE");
    }
    return {text.substr(0, equals), text.substr(equals + 1)};
}

void share_out(const std::vector<std::string>& texts, std::span<const Owner> owners) {
    for (const std::string& text : texts) {
        const Override change = key_and_value(text);
        bool taken = false;
        std::string prefixes;
        for (const Owner& owner : owners) {
            prefixes += (prefixes.empty() ? "" : &owner == &owners.back() ? " or " : ", ") + owner.prefix;
            if (change.key.starts_with(owner.prefix)) {
                owner.settings->push_back({change.key.substr(owner.prefix.size()), change.value, owner.prefix});
                taken = true;
            }
        }
        if (!taken) {
            throw InputError({"--set", 0, change.key}, "belongs to none of the files; begin the key with " + prefixes);
        }
    }
}

}  // namespace echoloom
