#include "recon/beamform/scan_kind.h"

#include <algorithm>
#include <string>

#include "recon/beamform/array_places.h"
#include "recon/beamform/high_pass.h"
#include "sim/base/text.h"

namespace echoloom {
namespace {

[[noreturn]] void refuse_key(const Recipe& recipe, std::string_view key, const std::string& why) {
    throw InputError(place_of(recipe, key), why);
}

/// What a recording holds, and a shipped recipe that fits it.
struct Fitting {
    const char* holds;
    const char* recipe;
};

Fitting fitting(TransmitKind kind) {
    switch (kind) {
        case TransmitKind::focused:
            return {"is a scan of lines", "dynamic_focus or growing_aperture"};
        case TransmitKind::plane:
            return {"holds plane waves", "plane_wave_compound"};
        case TransmitKind::diverging:
            return {"holds diverging waves", "diverging_compound"};
        case TransmitKind::element:
            return {"is a full matrix", "synthetic_focus"};
    }
    return {"is of another kind", "dynamic_focus"};
}

void refuse_transmit_key(const Recipe& recipe, std::string_view key, const std::string& meant, TransmitKind kind) {
    const auto [holds, fits] = fitting(kind);
    refuse_key(recipe, key,
               "this recipe is for " + meant + " recordings, and this one " + holds + "; use e.g. " + fits +
                   ", or remove the key from a recipe of your own");
}

void refuse_keys_of_other_events(const Recipe& recipe, TransmitKind kind) {
    if (kind != TransmitKind::focused && recipe.transmit_focus == TransmitFocus::retrospective) {
        refuse_transmit_key(recipe, "transmit.focus", "focused-line", kind);
    }
    if (kind != TransmitKind::plane && kind != TransmitKind::diverging && recipe.angle_window) {
        refuse_transmit_key(recipe, "transmit.angle_window", "plane-wave", kind);
    }
    if (kind != TransmitKind::element &&
        (recipe.transmit_weights == TransmitWeights::equal || recipe.places.contains("transmit.weights"))) {
        refuse_transmit_key(recipe, "transmit.weights", "full-matrix", kind);
    }
}

void refuse_keys_of_pixels(const Recipe& recipe) {
    const std::string why =
        "is for images of pixels, and this recording is a scan of lines, whose places are its own; remove the key";
    if (recipe.min_x_m || recipe.max_x_m) {
        refuse_key(recipe, "grid.x_mm", why);
    }
    if (recipe.x_step_m) {
        refuse_key(recipe, "grid.x_step_mm", why);
    }
    if (recipe.sector_half_angle_rad) {
        refuse_key(recipe, "grid.sector_half_angle_deg", why);
    }
    if (recipe.angle_step_rad) {
        refuse_key(recipe, "grid.angle_step_deg", why);
    }
}

/// The array decides which shape the columns of pixels have.
void refuse_keys_of_other_columns(const Recipe& recipe, const Probe& probe) {
    if (probe.radius_m > 0.0 && (recipe.min_x_m || recipe.x_step_m)) {
        refuse_key(recipe, recipe.min_x_m ? "grid.x_mm" : "grid.x_step_mm",
                   "is for flat arrays: the columns of a curved one lie along its radii; give sector_half_angle_deg "
                   "and angle_step_deg, or remove the key");
    }
    if (recipe.angle_step_rad && probe.radius_m <= 0.0 && probe.kind != "phased" && !recipe.sector_half_angle_rad) {
        refuse_key(recipe, "grid.angle_step_deg",
                   "is of a sector, and this array's columns go straight down by default; add sector_half_angle_deg, "
                   "or give x_step_mm");
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

ScanKind kind_of(TransmitKind events, const Recipe& recipe) {
    switch (events) {
        case TransmitKind::plane:
            return ScanKind::plane_waves;
        case TransmitKind::diverging:
            return ScanKind::diverging_waves;
        case TransmitKind::element:
            return ScanKind::full_matrix;
        case TransmitKind::focused:
            break;
    }
    return recipe.transmit_focus == TransmitFocus::retrospective ? ScanKind::retrospective : ScanKind::lines;
}

/// Rings form images along their axis alone, and no image combines events of a rotating head.
void refuse_other_than_axial_lines(const RecordingInfo& info, const Recipe& recipe, ScanKind kind) {
    const bool rings = info.probe.elements.front().is_ring();
    if (!rings && !info.head) {
        return;
    }
    const std::string what = rings ? "an annular array" : "a rotating head";
    if (kind == ScanKind::retrospective) {
        refuse_key(recipe, "transmit.focus",
                   "needs an array at rest whose beams overlap, and this is " + what +
                       "; remove the key, or give \"as_transmitted\"");
    }
    if (kind != ScanKind::lines) {
        throw InputError("the recording is of " + what +
                         ", whose images are made of focused lines along its axis; "
                         "record those");
    }
    for (std::size_t event = 0; rings && event < info.events.size(); ++event) {
        const LineStart start = line_start(info, info.events[event]);
        const Element& ring = info.probe.elements.front();
        if ((start.origin_m - ring.center_m).norm() > 1e-6 || (start.direction - ring.normal).norm() > 1e-6) {
            throw InputError("event " + plain(static_cast<double>(event + 1)) +
                             " of the recording does not go along the axis of its rings; give it the origin and "
                             "direction of the axis, and the head's angle");
        }
    }
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
    high_pass(recipe, info);  // refuses
    refuse_keys_of_other_events(recipe, first);
    if (first == TransmitKind::focused) {
        refuse_keys_of_pixels(recipe);
    } else {
        refuse_keys_of_other_columns(recipe, info.probe);
    }
    const ScanKind kind = kind_of(first, recipe);
    refuse_other_than_axial_lines(info, recipe, kind);
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
            throw InputError("events " + plain(static_cast<double>(found->events.front() + 1)) + " and " +
                             plain(static_cast<double>(event + 1)) + " both serve line " + plain(line) +
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
        throw InputError("event " + plain(static_cast<double>(event + 1)) +
                         " of the recording is a single-element event, but not exactly one element has a weight");
    }
    return static_cast<std::size_t>(found - weights.begin());
}

TransmitPath::TransmitPath(const RecordingInfo& info, std::size_t event, double sound_speed_m_s)
    : plane_(info.events[event].kind == TransmitKind::plane),
      from_m_(info.events[event].origin_m),
      direction_(info.events[event].direction) {
    switch (info.events[event].kind) {
        case TransmitKind::plane:
            break;
        case TransmitKind::focused:
            cone_.emplace(info, event, sound_speed_m_s);
            break;
        case TransmitKind::diverging:
            from_m_ = info.events[event].focus_m;
            extra_m_ = -(info.events[event].origin_m - from_m_).norm();
            if (!from_m_.allFinite()) {
                throw InputError("event " + plain(static_cast<double>(event + 1)) +
                                 " of the recording is a diverging wave without a source; give focus_m the place it "
                                 "spreads from");
            }
            break;
        case TransmitKind::element: {
            const std::size_t element = firing_element(info, event);
            from_m_ = info.probe.elements[element].center_m;
            extra_m_ = info.events[event].delay_s[element] * sound_speed_m_s;
            break;
        }
    }
}

}  // namespace echoloom
