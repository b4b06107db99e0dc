#include "sim/array/window_settings.h"

namespace echoloom {

Window read_window(Settings& settings, std::string_view window_key, std::string_view parameter_key,
                   WindowKind fallback) {
    Window window;
    window.kind = window_kind(settings.one_of_or(window_key, window_name(fallback), window_names()));
    const WindowParameter parameter = window_parameter(window.kind);
    if (parameter.most > parameter.least) {
        window.parameter = settings.number_or(parameter_key, parameter.usual, between(parameter.least, parameter.most));
    } else if (settings.has(parameter_key)) {
        settings.fail(parameter_key, "the window \"" + std::string(window_name(window.kind)) +
                                         "\" has no parameter; take this key out");
    }
    return window;
}

}  // namespace echoloom
