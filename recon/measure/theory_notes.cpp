#include "recon/measure/theory_notes.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include "recon/measure/point_view.h"
#include "sim/base/text.h"

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

/// Measured over theoretical width from which a reason is given.
constexpr double much_wider = 1.15;

std::string in_mm(double length_m) {
    return plain(std::round(length_m * 1e4) / 10.0) + " mm";
}

/// Width of the transmit aperture of a line, out to the edges of its last elements.
double firing_width_m(const RecordingInfo& info, const TransmitEvent& event) {
    double min_x = std::numeric_limits<double>::infinity(), max_x = -min_x;
    for (std::size_t n = 0; n < event.weight.size() && n < info.probe.elements.size(); ++n) {
        if (event.weight[n] == 0.0) continue;
        min_x = std::min(min_x, info.probe.elements[n].center_m.x());
        max_x = std::max(max_x, info.probe.elements[n].center_m.x());
    }
    return max_x > min_x ? max_x - min_x + info.probe.pitch_m : 0.0;
}

/// Line scans with a row of equal elements and one focus per line: the case that the reasons below cover.
const TransmitEvent* plain_line(const Image& image) {
    const RecordingInfo& info = image.recording;
    const TransmitEvent& middle = info.events[info.events.size() / 2];
    const bool lines =
        middle.kind == TransmitKind::focused && image.recipe.transmit_focus == TransmitFocus::as_transmitted;
    const bool zones = info.events.size() > 1 && info.events[0].line == info.events[1].line;
    return lines && !zones && info.probe.pitch_m > 0.0 && !has_rings(info.probe) ? &middle : nullptr;
}

std::string short_of_elements(const Image& image, double deepest_m) {
    const RecordingInfo& info = image.recording;
    if (image.recipe.aperture != ApertureMode::growing || !(image.recipe.f_number > 0.0) || has_rings(info.probe))
        return "";
    const double widest =
        static_cast<double>(image.recipe.max_elements.value_or(static_cast<int>(info.channels))) * info.probe.pitch_m;
    const double from = image.recipe.f_number * widest;
    if (!(from > 0.0) || deepest_m <= from) return "";
    return "deeper than " + in_mm(from) +
           " the receive aperture has no more elements to grow by: from there on, measured and theoretical widths "
           "increase with depth";
}

/// Depth of focus, 7 lambda F^2 in all: 3 dB down on the axis one way (line aperture 6.95, from
/// the Fresnel integrals; G. S. Kino, Acoustic Waves, 1987, has 7.1 for a disc, from memory).
std::string out_of_transmit_focus(const Image& image, const std::vector<double>& depths_m) {
    const TransmitEvent* line = plain_line(image);
    if (!line) return "";
    const RecordingInfo& info = image.recording;
    const double focus = (line->focus_m - line->origin_m).norm(), width = firing_width_m(info, *line);
    if (!std::isfinite(focus) || !(width > 0.0)) return "";
    const double half = 3.5 * info.probe.wavelength_m(info.medium.sound_speed_m_s) * std::pow(focus / width, 2);
    if (std::ranges::none_of(depths_m, [&](double depth) { return std::abs(depth - focus) > half; })) return "";
    return "the transmit beam is in focus from about " + in_mm(std::max(0.0, focus - half)) + " to " +
           in_mm(focus + half) + " only (7 wavelengths F^2); outside it only the receive aperture focuses";
}

/// Exact distances against the paraxial approximation: + 0.07 / F^2 of the width (sums over 64 points, F/1 to F/4).
std::string beyond_paraxial(const Image& image, double shallowest_m) {
    const TransmitEvent* line = plain_line(image);
    if (!line) return "";
    const double width = firing_width_m(image.recording, *line);
    if (!(width > 0.0) || shallowest_m > 0.8 * width) return "";
    return "nearer than " + in_mm(0.8 * width) +
           " the transmit F-number is below 0.8, where paraxial theory is more than 10 % too narrow, and elements see "
           "the point off axis";
}

/// Gaussian downshift under attenuation that is linear in frequency: a 2 z sigma^2 (A. C. Kak & K. A. Dines, IEEE
/// Trans. Biomed. Eng. 25, 321-344, 1978, from memory).
std::string lowered_frequency(const RecordingInfo& info, double deepest_m) {
    const double center = info.probe.center_Hz;
    const double sigma = info.probe.bandwidth_fraction * center / 2.354820;
    const double shift = info.medium.attenuation_Np_m(center) / center * 2.0 * deepest_m * sigma * sigma;
    if (info.medium.attenuation_exponent != 1.0 || shift < 0.05 * center) return "";
    return "attenuation lowers the echo's centre frequency by " + plain(std::round(100.0 * shift / center)) + " % at " +
           in_mm(deepest_m) + ", while theory uses the probe's own";
}

}  // namespace

std::vector<std::string> theory_notes(const Image& image) {
    const RecordingInfo& info = image.recording;
    if (info.events.empty()) return {};
    std::vector<std::string> notes;
    const bool focused = info.events.front().kind == TransmitKind::focused;
    const bool lines = focused && image.recipe.transmit_focus == TransmitFocus::as_transmitted;
    if (focused && !lines) {
        notes.push_back("theory: each event as one wave through its focus; predicted: every event in full");
    }
    if (lines && steers(info)) {
        notes.push_back(
            "theory and prediction hold the beam nearest the point still and move the point, so they leave out "
            "that the aperture looks shorter from line to line; the elements' directivity pulls a steered beam "
            "towards broadside: see the lateral position error");
    }
    if (info.head && info.head->rotation_rate_rad_s != 0.0) {
        notes.push_back("theory: a stationary head; predicted: the head receives at its angle when the echo arrives");
        notes.push_back(
            "a rotating head shows a point displaced by half the angle that it turns meanwhile: see the lateral "
            "position error");
    }
    if (info.probe.rows > 1 && !has_rings(info.probe)) {
        notes.push_back("theory: lateral only; rows and their delays are included in predicted and slice");
    }
    if (any_off_plane(info.truth)) {
        notes.push_back("points off the image plane are predicted as if they lay in it");
    }
    if (info.medium.dispersive) notes.push_back("theory and prediction leave out dispersion");
    return notes;
}

std::vector<std::string> difference_notes(const Image& image, std::span<const PointReport> points) {
    const RecordingInfo& info = image.recording;
    std::vector<double> wide_m;  // depths of points wider than theory
    for (const PointReport& point : points) {
        const auto& width = point.measured.lateral_6dB.width_m;
        if (point.measured.found && width && *width > much_wider * point.theory_lateral_6dB_m) {
            wide_m.push_back(point.measured.true_m.z());
        }
    }
    if (wide_m.empty() || info.events.empty()) return {};
    std::vector<std::string> notes;
    const auto [shallowest, deepest] = std::ranges::minmax(wide_m);
    const std::string end = short_of_elements(image, deepest);
    if (!end.empty()) notes.push_back(end);
    for (const auto& why :
         {out_of_transmit_focus(image, wide_m), beyond_paraxial(image, shallowest), lowered_frequency(info, deepest)}) {
        if (!why.empty()) notes.push_back("wider than theory: " + why);
    }
    return notes;
}

}  // namespace echoloom
