#include "tools/cli/front_movie.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include "sim/base/parallel.h"
#include "sim/base/progress.h"
#include "sim/engine/pulsed_field.h"
#include "tools/cli/before_face.h"

namespace echoloom {

namespace {

constexpr double samples_per_wavelength = 5.0;
constexpr double max_points = 4e5;  ///< of the grid; a picture has no more to show
constexpr double picture_tolerance = 3e-3;
constexpr std::size_t columns_at_once = 8;

double wavelength_m(const Front& front) {
    return front.medium.sound_speed_m_s / front.probe.center_Hz;
}

/// Catmull-Rom through four neighbours.
double cubic(double a, double b, double c, double d, double t) {
    return b + 0.5 * t * (c - a + t * (2.0 * a - 5.0 * b + 4.0 * c - d + t * (3.0 * (b - c) + d - a)));
}

}  // namespace

Movie compute_movie(const Front& front, const Extent& extent, const std::vector<double>& instants_s, bool quiet) {
    const double lambda = wavelength_m(front);
    Movie movie{extent, 0, 0, lambda / samples_per_wavelength, instants_s, {}, 0.0};
    movie.step_m = std::max(movie.step_m, std::sqrt(extent.width_m() * extent.height_m() / max_points));
    movie.columns = static_cast<std::size_t>(std::ceil(extent.width_m() / movie.step_m)) + 1;
    movie.rows = static_cast<std::size_t>(std::ceil(extent.height_m() / movie.step_m)) + 1;
    const std::size_t count = instants_s.size();
    movie.pressure.assign(movie.columns * movie.rows * count, std::numeric_limits<float>::quiet_NaN());
    const PulsedField field(front.probe, front.head, front.event.head_angle_rad, front.medium, picture_tolerance);
    const ElementDrive drive{front.event.weight, front.event.delay_s};
    const FaceShape shape = face_shape(front.probe, front.event);
    Progress progress("front", movie.columns, quiet);
    for (std::size_t first = 0; first < movie.columns; first += columns_at_once) {
        const std::size_t last = std::min(first + columns_at_once, movie.columns);
        const auto fill_pixel = [&](std::size_t i) {
            const double x = extent.min_x_m + static_cast<double>(first + i / movie.rows) * movie.step_m;
            const double z = extent.min_z_m + static_cast<double>(i % movie.rows) * movie.step_m;
            if (const auto place = before_face(shape, Vec3(x, 0.0, z), 0.25 * lambda)) {
                field.pressures(*place, drive, instants_s, {&movie.pressure[(first * movie.rows + i) * count], count});
            }
        };
        for_each_in_parallel((last - first) * movie.rows, fill_pixel, 16);
        progress.advance(last - first);
    }
    for (std::size_t i = 0; i < movie.columns * movie.rows; ++i) {
        const double z = extent.min_z_m + static_cast<double>(i % movie.rows) * movie.step_m;
        for (std::size_t n = 0; z > 2.0 * lambda && n < count; ++n) {
            const auto pressure = static_cast<double>(std::abs(movie.pressure[i * count + n]));
            movie.highest = std::isnan(pressure) ? movie.highest : std::max(movie.highest, pressure);
        }
    }
    return movie;
}

double pressure_at(const Movie& movie, double column, double row, std::size_t instant) {
    const auto c = static_cast<std::ptrdiff_t>(std::floor(column));
    const auto r = static_cast<std::ptrdiff_t>(std::floor(row));
    const double right = column - std::floor(column);
    const double down = row - std::floor(row);
    double rows[4];
    for (std::ptrdiff_t i = 0; i < 4; ++i) {
        const std::ptrdiff_t place = c - 1 + i;
        rows[i] = cubic(movie.at(place, r - 1, instant), movie.at(place, r, instant), movie.at(place, r + 1, instant),
                        movie.at(place, r + 2, instant), down);
    }
    return cubic(rows[0], rows[1], rows[2], rows[3], right);
}

}  // namespace echoloom
