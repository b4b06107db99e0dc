#include "recon/beamform/focus_cone.h"

#include <Eigen/Geometry>
#include <algorithm>
#include <cmath>
#include <limits>

#include "recon/beamform/aperture.h"
#include "recon/beamform/array_places.h"
#include "sim/base/error.h"
#include "sim/base/text.h"

namespace echoloom {
namespace {

[[noreturn]] void refuse(std::size_t event, const std::string& why) {
    throw InputError("event " + plain(static_cast<double>(event + 1)) + " of the recording " + why +
                     ", so that no retrospective focus is possible; take transmit.focus = \"as_transmitted\"");
}

}  // namespace

FocusCone::FocusCone(const RecordingInfo& info, std::size_t event, double sound_speed_m_s)
    : focus_m_(info.events[event].focus_m),
      axis_(info.events[event].direction),
      lateral_(Vec3::UnitY().cross(axis_).normalized()),
      to_focus_m_((focus_m_ - info.events[event].origin_m).norm()) {
    if (!focus_m_.allFinite()) {
        refuse(event, "has no focus");
    }
    const auto& weight = info.events[event].weight;
    const double half_pitch = 0.5 * mean_pitch_m(info.probe);
    double left = std::numeric_limits<double>::infinity();  // slopes of the outermost rays
    double right = -left;
    double least = left;  // places of the outermost edges, lateral
    double most = right;
    for (std::size_t i = 0; i < info.probe.elements.size(); ++i) {
        if (i >= weight.size() || weight[i] == 0.0) {
            continue;
        }
        const Element& element = info.probe.elements[i];
        for (const double side : {-half_pitch, half_pitch}) {
            const Vec3 edge = element.center_m + side * lateral_of(element) - focus_m_;
            const double axial = edge.dot(axis_);
            if (axial > -1e-3 * to_focus_m_) {
                refuse(event, "has its focus at the depth of elements that fire");
            }
            const double slope = edge.dot(lateral_) / axial;
            left = std::min(left, slope);
            right = std::max(right, slope);
            least = std::min(least, edge.dot(lateral_));
            most = std::max(most, edge.dot(lateral_));
        }
    }
    if (!(right > left)) {
        refuse(event, "has no element that fires");
    }
    middle_slope_ = 0.5 * (left + right);
    half_slope_ = 0.5 * (right - left);
    const double f_number = to_focus_m_ / (most - least);
    const double wavelength_m = info.probe.wavelength_m(sound_speed_m_s);
    min_half_width_m_ = wavelength_m * f_number;
    zone_m_ = 1.6 * wavelength_m * f_number * f_number;
}

double FocusCone::lateral_share(const Vec3& point_m) const {
    const Vec3 offset = point_m - focus_m_;
    const double axial = offset.dot(axis_);
    const double half_width = std::hypot(axial * half_slope_, min_half_width_m_);
    return 0.5 * (offset.dot(lateral_) - axial * middle_slope_) / half_width;
}

double FocusCone::path_m(const Vec3& point_m) const {
    const Vec3 offset = point_m - focus_m_;
    const double axial = offset.dot(axis_);
    const double aside_squared = std::max(0.0, offset.squaredNorm() - axial * axial);
    return to_focus_m_ + axial * std::sqrt(1.0 + aside_squared / (axial * axial + zone_m_ * zone_m_));
}

}  // namespace echoloom
