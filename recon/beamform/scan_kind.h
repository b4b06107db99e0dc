#pragma once
/// What sort of scan a recording holds, checked so that the sums can trust it.

#include <optional>
#include <vector>

#include "recon/beamform/focus_cone.h"
#include "recon/beamform/recipe.h"
#include "sim/recording/recording.h"

namespace echoloom {

/// How a recording is formed into an image; retrospective: focused lines, pixel by pixel.
enum class ScanKind { lines, retrospective, plane_waves, diverging_waves, full_matrix };

/// Throws InputError where the events are of mixed kinds or contradict each other, and where the recipe has keys for
/// another kind of scan.
ScanKind scan_kind(const RecordingInfo& info, const Recipe& recipe);

/// Events that serve one scan line. Those of one focus are averaged, those of several blended by depth (zone_blend.h).
struct LineEvents {
    int line = 0;
    std::vector<std::size_t> events;
};
/// Lines in rising order. Throws InputError where events of one line differ in origin or direction.
std::vector<LineEvents> events_by_line(const RecordingInfo& info);

/// The one element that fires in an event of a full matrix.
std::size_t firing_element(const RecordingInfo& info, std::size_t event);

/// When the front of an event reaches a pixel, as a path to be divided by the sound speed.
class TransmitPath {
  public:
    TransmitPath(const RecordingInfo& info, std::size_t event, double sound_speed_m_s);
    double operator()(const Vec3& point_m) const {
        if (cone_) {
            return cone_->path_m(point_m);
        }
        return plane_ ? (point_m - from_m_).dot(direction_) : (point_m - from_m_).norm() + extra_m_;
    }
    bool plane() const { return plane_; }
    const Vec3& from_m() const { return from_m_; }
    const Vec3& direction() const { return direction_; }
    double extra_m() const { return extra_m_; }
    /// Of a focused event.
    const std::optional<FocusCone>& cone() const { return cone_; }

  private:
    bool plane_;
    Vec3 from_m_;  ///< origin of the plane wave, virtual source of a diverging one, or centre of the element that fires
    Vec3 direction_;
    double extra_m_ = 0.0;  ///< an element's own delay; from a virtual source to the origin, taken off
    std::optional<FocusCone> cone_;
};

}  // namespace echoloom
