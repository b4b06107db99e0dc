#pragma once
/// A window as a person writes it: its name under one key, its parameter under another.

#include <string_view>

#include "sim/array/window.h"
#include "sim/base/settings.h"

namespace echoloom {

/// `fallback` where the window's key is absent. Throws InputError for an unknown name, for a parameter out of the
/// window's range, and for a parameter given to a window that has none.
Window read_window(Settings& settings, std::string_view window_key, std::string_view parameter_key,
                   WindowKind fallback = WindowKind::rectangular);

}  // namespace echoloom
