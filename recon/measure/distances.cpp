#include "recon/measure/distances.h"

#include <algorithm>
#include <cmath>

namespace echoloom {
namespace {

constexpr double in_line_m = 0.1e-3;
/// Closer pairs depend on resolution rather than on geometry.
constexpr double min_apart_m = 2e-3;

}  // namespace

double distance_limit_m(double true_m, bool axial) {
    return axial ? std::max(1.5e-3, 0.015 * true_m) : std::max(2e-3, 0.02 * true_m);
}

std::optional<DistanceCheck> check_distances(std::span<const PointMeasurement> points, bool axial) {
    DistanceCheck check;
    double squares = 0.0, product = 0.0, true_squares = 0.0, worst = -1.0;
    for (std::size_t a = 0; a < points.size(); ++a) {
        for (std::size_t b = a + 1; b < points.size(); ++b) {
            if (!points[a].found || !points[b].found) continue;
            const Vec3 apart = points[b].true_m - points[a].true_m;
            const double beside = axial ? std::abs(apart.x()) : std::abs(apart.z());
            if (beside > in_line_m || std::abs(apart.y()) > in_line_m || apart.norm() < min_apart_m) continue;
            const double truth = apart.norm();
            // As calipers on the line between the two would: how far a peak lies beside that line does not count.
            const double measured = (points[b].peak_m - points[a].peak_m).dot(apart) / truth;
            const double error = measured - truth;
            ++check.pairs;
            squares += error * error;
            product += measured * truth;
            true_squares += truth * truth;
            if (std::abs(error) > distance_limit_m(truth, axial)) ++check.beyond_limit;
            if (truth > check.longest_true_m) {
                check.longest_true_m = truth;
                check.longest_measured_m = measured;
            }
            if (std::abs(error) > worst) {
                worst = std::abs(error);
                check.worst_true_m = truth;
                check.worst_measured_m = measured;
                check.worst_from_m = points[a].true_m;
                check.worst_to_m = points[b].true_m;
                check.limit_m = distance_limit_m(truth, axial);
            }
        }
    }
    if (check.pairs == 0) return std::nullopt;
    check.rms_error_m = std::sqrt(squares / static_cast<double>(check.pairs));
    check.scale = product / true_squares;
    return check;
}

}  // namespace echoloom
