#include "recon/measure/theory_notes.h"

#include <algorithm>
#include <cmath>

#include "recon/measure/point_view.h"

namespace echoloom {
namespace {

/// Lines that leave one fixed face at different angles.
bool steers(const RecordingInfo& info) {
    return info.probe.radius_m == 0.0 && !info.head &&
           std::ranges::any_of(info.events, [&](const TransmitEvent& event) {
               return (event.direction - info.events.front().direction).norm() > 1e-9;
           });
}

bool any_off_plane(const Truth& truth) {
    return std::ranges::any_of(truth.points, [](const TruePoint& p) { return std::abs(p.position_m.y()) > 1e-6; });
}

}  // namespace

std::vector<std::string> theory_notes(const Image& image) {
    const RecordingInfo& info = image.recording;
    if (info.events.empty()) return {};
    std::vector<std::string> notes;
    const bool focused = info.events.front().kind == TransmitKind::focused;
    const bool lines = focused && image.recipe.transmit_focus == TransmitFocus::as_sent;
    if (focused && !lines) {
        notes.push_back("rule: each event as one wave through its focus; predicted: every event in full");
    }
    if (lines && steers(info)) {
        notes.push_back(
            "theory holds the beam nearest the point still and moves the point; that the aperture looks shorter from "
            "line to line is left out; elements that favour straight ahead pull a steered beam that way: see off, "
            "across");
    }
    if (info.head && info.head->turn_rate_rad_s != 0.0) {
        notes.push_back("rule: a head that stands still; predicted: it hears at the angle of the echo's arrival");
        notes.push_back(
            "a turning head draws a point beside its place by half of what it turns meanwhile: see off, across");
    }
    if (info.probe.rows > 1 && !has_rings(info.probe)) {
        notes.push_back("rule: across alone; rows and their delays count in predicted and slice");
    }
    if (any_off_plane(info.truth)) {
        notes.push_back("points off the image plane are predicted as if they lay in it");
    }
    if (info.medium.dispersive) notes.push_back("theory leaves dispersion out");
    return notes;
}

}  // namespace echoloom
