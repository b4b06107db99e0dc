#pragma once
/// Reading a settings text back from a file that kept it.

#include <string>

#include "sim/base/settings.h"

namespace echoloom {

/// The text as Settings::source_text() gave it, with what its comment lines say was changed on the command line in
/// force. `name` stands for the file in messages. Throws InputError for text that is no TOML.
Settings kept_settings(const std::string& text, const std::string& name);

}  // namespace echoloom
