#include "recon/beamform/receive_focus.h"

#include <algorithm>

namespace echoloom {

ReceiveFocus::ReceiveFocus(const Recipe& recipe) {
    if (recipe.focus == FocusMode::dynamic) {
        return;
    }
    depths_m_ = recipe.focus_depths_m;
    for (std::size_t i = 1; i < depths_m_.size(); ++i) {
        midpoints_m_.push_back(0.5 * (depths_m_[i - 1] + depths_m_[i]));
    }
}

double ReceiveFocus::depth_m(double depth_m) const {
    if (dynamic()) {
        return depth_m;
    }
    const auto zone = std::ranges::lower_bound(midpoints_m_, depth_m) - midpoints_m_.begin();
    return depths_m_[static_cast<std::size_t>(zone)];
}

double ReceiveFocus::path_m(const Vec3& origin_m, const Vec3& direction, double depth_m, const Vec3& element_m) const {
    const double focus_depth = this->depth_m(depth_m);
    const Vec3 focus = origin_m + focus_depth * direction;
    return (focus - element_m).norm() + depth_m - focus_depth;
}

}  // namespace echoloom
