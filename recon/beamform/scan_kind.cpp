#include "recon/beamform/scan_kind.h"

#include <algorithm>
#include <string>

#include "recon/beamform/low_cut.h"
#include "sim/base/text.h"

namespace echoloom {
namespace {

[[noreturn]] void refuse_key(const Recipe& recipe, std::string_view key, const std::string& why) {
    throw InputError(place_of(recipe, key), why);
}

void refuse_keys_of_grids(const Recipe& recipe) {
    const std::string why =
        "is for Cartesian images, and this recording is a scan of lines, whose lateral positions are its own; remove "
        "the key";
    const auto transmit_key_of = [](const std::string& kind) {
        return "this recipe is for " + kind +
               " recordings, and this one is a scan of lines; use e.g. dynamic_focus or growing_aperture, or remove "
               "the "
               "key from a recipe of your own";
    };
    if (recipe.least_x_m || recipe.most_x_m) {
        refuse_key(recipe, "grid.x_mm", why);
    }
    if (recipe.x_step_m) {
        refuse_key(recipe, "grid.x_step_mm", why);
    }
    if (recipe.angle_window) {
        refuse_key(recipe, "transmit.angle_window", transmit_key_of("plane-wave"));
    }
    if (recipe.transmit_weights == TransmitWeights::equal || recipe.places.contains("transmit.weights")) {
        refuse_key(recipe, "transmit.weights", transmit_key_of("full-matrix"));
    }
}

void refuse_keys_of_other_grid(const Recipe& recipe, ScanKind kind) {
    if (kind == ScanKind::full_matrix && recipe.angle_window) {
        refuse_key(
            recipe, "transmit.angle_window",
            "this recipe is for plane-wave recordings, and this one is a full matrix; use e.g. synthetic_focus, or "
            "remove the key from a recipe of your own");
    }
    if (kind == ScanKind::plane_waves &&
        (recipe.transmit_weights == TransmitWeights::equal || recipe.places.contains("transmit.weights"))) {
        refuse_key(recipe, "transmit.weights",
                   "this recipe is for full-matrix recordings, and this one holds plane waves; use e.g. "
                   "plane_wave_compound, or remove the key from a recipe of your own");
    }
}

std::string name_of(TransmitKind kind) {
    switch (kind) {
        case TransmitKind::focused:
            return "focused";
        case TransmitKind::plane:
            return "plane";
        case TransmitKind::element:
            return "element";
        case TransmitKind::diverging:
            return "diverging";
    }
    return "unknown";
}

}  // namespace

ScanKind scan_kind(const RecordingInfo& info, const Recipe& recipe) {
    if (info.events.empty() || info.samples < 2 || info.channels == 0 || info.probe.elements.empty()) {
        throw InputError("the recording holds no echoes: it needs at least one event, channel and two samples");
    }
    const TransmitKind first = info.events.front().kind;
    for (const TransmitEvent& event : info.events) {
        if (event.kind != first) {
            throw InputError("the recording mixes " + name_of(first) + " and " + name_of(event.kind) +
                             " events; reconstruct recordings of one kind");
        }
    }
    low_cut(recipe, info);  // refuses
    const ScanKind kind = first == TransmitKind::focused ? ScanKind::lines
                          : first == TransmitKind::plane ? ScanKind::plane_waves
                                                         : ScanKind::full_matrix;
    if (kind == ScanKind::lines) {
        refuse_keys_of_grids(recipe);
    } else {
        refuse_keys_of_other_grid(recipe, kind);
    }
    if (kind == ScanKind::full_matrix) {
        for (std::size_t event = 0; event < info.events.size(); ++event) {
            firing_element(info, event);
        }
    }
    return kind;
}

std::vector<LineEvents> events_by_line(const RecordingInfo& info) {
    std::vector<LineEvents> lines;
    for (std::size_t event = 0; event < info.events.size(); ++event) {
        const int line = info.events[event].line;
        const auto found = std::ranges::lower_bound(lines, line, {}, &LineEvents::line);
        if (found == lines.end() || found->line != line) {
            lines.insert(found, LineEvents{line, {event}});
            continue;
        }
        const TransmitEvent& first = info.events[found->events.front()];
        if ((first.origin_m - info.events[event].origin_m).norm() > 1e-9 ||
            (first.direction - info.events[event].direction).norm() > 1e-9) {
            throw InputError("events " + plain(static_cast<double>(found->events.front())) + " and " +
                             plain(static_cast<double>(event)) + " both serve line " + plain(line) +
                             " but differ in origin or direction; give them lines of their own");
        }
        found->events.push_back(event);
    }
    return lines;
}

std::size_t firing_element(const RecordingInfo& info, std::size_t event) {
    const auto& weights = info.events[event].weight;
    const auto fires = [](double weight) { return weight != 0.0; };
    const auto found = std::ranges::find_if(weights, fires);
    if (found == weights.end() || std::any_of(found + 1, weights.end(), fires)) {
        throw InputError("event " + plain(static_cast<double>(event)) +
                         " of the recording is said to be one element's, but not exactly one element has a weight");
    }
    return static_cast<std::size_t>(found - weights.begin());
}

TransmitPath::TransmitPath(const RecordingInfo& info, std::size_t event, double sound_speed_m_s)
    : plane_(info.events[event].kind == TransmitKind::plane),
      from_m_(info.events[event].origin_m),
      direction_(info.events[event].direction) {
    if (!plane_) {
        const std::size_t element = firing_element(info, event);
        from_m_ = info.probe.elements[element].center_m;
        extra_m_ = info.events[event].delay_s[element] * sound_speed_m_s;
    }
}

}  // namespace echoloom
