#include "sim/array/delay_law.h"

namespace echoloom {

std::vector<double> focusing_delays(std::span<const Element> elements, const Vec3& origin, const Vec3& focus,
                                    double sound_speed_m_s) {
    const double reference_m = (focus - origin).norm();
    std::vector<double> delays;
    delays.reserve(elements.size());
    for (const Element& element : elements) {
        delays.push_back((reference_m - (focus - element.center_m).norm()) / sound_speed_m_s);
    }
    return delays;
}

std::vector<double> diverging_delays(std::span<const Element> elements, const Vec3& origin, const Vec3& source,
                                     double sound_speed_m_s) {
    const double reference_m = (origin - source).norm();
    std::vector<double> delays;
    delays.reserve(elements.size());
    for (const Element& element : elements) {
        delays.push_back(((element.center_m - source).norm() - reference_m) / sound_speed_m_s);
    }
    return delays;
}

std::vector<double> plane_delays(std::span<const Element> elements, const Vec3& origin, const Vec3& direction,
                                 double sound_speed_m_s) {
    std::vector<double> delays;
    delays.reserve(elements.size());
    for (const Element& element : elements) {
        delays.push_back((element.center_m - origin).dot(direction) / sound_speed_m_s);
    }
    return delays;
}

}  // namespace echoloom
