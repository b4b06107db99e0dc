#include "tools/cli/beam_receive.h"

#include <cmath>
#include <limits>
#include <memory>
#include <utility>

#include "recon/beamform/beamform.h"
#include "recon/beamform/line_table.h"
#include "sim/base/text.h"

namespace echoloom {

namespace {

constexpr double mm = 1e-3;

/// Weights of the receiving elements, and delays that bring sound from `focus_m` along the line (infinite: from its
/// direction) into phase: how much later it reaches each than the line's origin, taken back.
ElementDrive drive_to(const Probe& probe, const TransmitEvent& event, const LineGeometry& geometry,
                      std::span<const float> weights, double focus_m, double sound_speed_m_s) {
    ElementDrive drive{std::vector<double>(probe.elements.size(), 0.0),
                       std::vector<double>(probe.elements.size(), 0.0)};
    for (std::size_t channel = 0; channel < event.receivers.size(); ++channel) {
        const auto element = static_cast<std::size_t>(event.receivers[channel]);
        const Vec3& place = geometry.receivers_m[channel];
        const double later_m = std::isfinite(focus_m) ? (focus_m * geometry.direction - place).norm() - focus_m
                                                      : -place.dot(geometry.direction);
        drive.weight[element] = static_cast<double>(weights[channel]);
        drive.delay_s[element] = -later_m / sound_speed_m_s;
    }
    return drive;
}

std::string in_mm(double length_m) {
    return plain(std::round(length_m / mm * 100.0) / 100.0) + " mm";
}

}  // namespace

ReceiveTheory own_receive(const Probe& probe, const Scan& scan, const TransmitEvent& event) {
    const RecordingInfo info = planned_recording(probe, scan);
    const LineGeometry geometry = line_geometry(info, ElementPlaces(probe), event);
    const std::vector<float> weights(event.receivers.size(), 1.0F);
    const double ahead_m = event.focus_m.allFinite() ? (event.focus_m - event.origin_m).dot(event.direction) : 0.0;
    const bool focused = event.kind == TransmitKind::focused && ahead_m > 0.0;
    const double focus_m = focused ? ahead_m : std::numeric_limits<double>::infinity();
    ElementDrive drive = drive_to(probe, event, geometry, weights, focus_m, scan.sound_speed_m_s);
    return {{[held = std::move(drive)](double) { return held; }, false},
            counted(weights.size(), "element") + " with equal weights, " +
                (focused ? "focused at " + in_mm(focus_m) : std::string("without a focus")),
            focused ? std::optional(focus_m) : std::nullopt};
}

ReceiveTheory recipe_receive(const Probe& probe, const Scan& scan, const TransmitEvent& event, const Recipe& recipe) {
    struct Receive {
        LineSetting setting;
        LineGeometry geometry;
    };
    const RecordingInfo info = planned_recording(probe, scan);
    const double speed = assumed_sound_speed(recipe, info);
    const auto receive = std::make_shared<const Receive>(Receive{
        {recipe.normalize_depth, {}, speed, scan.sampling_rate_Hz, Aperture(recipe, info), ReceiveFocus(recipe)},
        line_geometry(info, ElementPlaces(probe), event)});
    const auto at = [=](double range_m) {
        std::vector<float> weights(event.receivers.size());
        receive->setting.weigh(receive->geometry, receive->setting.aperture.width_m(range_m), weights);
        return drive_to(probe, event, receive->geometry, weights, receive->setting.focus.depth_m(range_m), speed);
    };
    const bool fixed = recipe.focus == FocusMode::fixed;
    return {{at, !(fixed && recipe.aperture == ApertureMode::constant)},
            "recipe " + recipe.name,
            fixed ? std::optional(recipe.focus_depths_m.front()) : std::nullopt};
}

}  // namespace echoloom
