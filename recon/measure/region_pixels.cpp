#include "recon/measure/region_pixels.h"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <limits>

#include "recon/measure/grid_place.h"

namespace echoloom {
namespace {

/// Area that each pixel of a column stands for, per metre of depth: the distance to its neighbours at a depth.
double column_spacing_m(const Grid& grid, std::size_t columns, std::size_t column, double depth_m) {
    if (columns < 2) return 0.0;
    const std::size_t before = column > 0 ? column - 1 : 0, after = std::min(column + 1, columns - 1);
    const auto place = [&](std::size_t n) {
        const Column line = column_at(grid, static_cast<double>(n));
        return Vec3(line.origin_m + depth_m * line.direction);
    };
    return (place(after) - place(before)).norm() / static_cast<double>(after - before);
}

}  // namespace

bool inside_outline(const TrueRegion& region, double x_m, double z_m, double grow_x_m, double grow_z_m) {
    const double dx = std::abs(x_m - region.center_m.x()), dz = std::abs(z_m - region.center_m.z());
    double half_x = region.half_size_m.x(), half_z = region.half_size_m.z();
    const bool round = region.shape == RegionShape::sphere || region.shape == RegionShape::ellipsoid;
    if (round && region.half_size_m.y() > 0.0) {
        const double off = region.center_m.y() / region.half_size_m.y();
        if (std::abs(off) >= 1.0) return false;
        const double left = std::sqrt(1.0 - off * off);
        half_x *= left;
        half_z *= left;
    } else if (std::abs(region.center_m.y()) > region.half_size_m.y() && region.half_size_m.y() > 0.0) {
        return false;
    }
    half_x += grow_x_m;
    half_z += grow_z_m;
    if (!(half_x > 0.0) || !(half_z > 0.0)) return false;
    if (region.shape == RegionShape::box) return dx <= half_x && dz <= half_z;
    return (dx / half_x) * (dx / half_x) + (dz / half_z) * (dz / half_z) <= 1.0;
}

std::vector<RegionPixel> pixels_where(const Image& image, const std::function<bool(double, double)>& wanted) {
    std::vector<RegionPixel> pixels;
    const double assumed = image.sound_speed_m_s, speed = image.recording.medium.sound_speed_m_s;
    const double ratio = assumed > 0.0 && speed > 0.0 ? speed / assumed : 1.0;
    const auto& depths = depths_of(image.grid);
    const double step =
        depths.size() > 1 ? (depths.back() - depths.front()) / static_cast<double>(depths.size() - 1) : 0.0;
    for (std::size_t c = 0; c < image.columns; ++c) {
        const Column line = column_at(image.grid, static_cast<double>(c));
        const double near = column_spacing_m(image.grid, image.columns, c, depths.front());
        const double far = column_spacing_m(image.grid, image.columns, c, depths.back());
        for (std::size_t d = 0; d < image.depths; ++d) {
            const Vec3 place = line.origin_m + ratio * depths[d] * line.direction;
            if (!wanted(place.x(), place.z())) continue;
            const double fraction =
                image.depths > 1 ? static_cast<double>(d) / static_cast<double>(image.depths - 1) : 0.0;
            pixels.push_back({c, d, place.x(), place.z(), image.envelope[c * image.depths + d],
                              step * (near + fraction * (far - near))});
        }
    }
    return pixels;
}

double area_of(std::span<const RegionPixel> pixels) {
    double area = 0.0;
    for (const RegionPixel& pixel : pixels) area += pixel.area_m2;
    return area;
}

Trend::Trend(std::span<const std::vector<RegionPixel>* const> groups, bool squares) : squares_(squares) {
    double min_x = std::numeric_limits<double>::infinity(), max_x = -min_x, min_z = min_x, max_z = -min_x;
    for (const auto* group : groups) {
        for (const RegionPixel& pixel : *group) {
            min_x = std::min(min_x, pixel.x_m);
            max_x = std::max(max_x, pixel.x_m);
            min_z = std::min(min_z, pixel.z_m);
            max_z = std::max(max_z, pixel.z_m);
        }
    }
    middle_x_m_ = 0.5 * (min_x + max_x);
    middle_z_m_ = 0.5 * (min_z + max_z);
    half_x_m_ = std::max(0.5 * (max_x - min_x), 1e-9);
    half_z_m_ = std::max(0.5 * (max_z - min_z), 1e-9);
    const auto own = static_cast<Eigen::Index>(groups.size());
    const Eigen::Index shared = squares ? 4 : 2;
    Eigen::MatrixXd normal = Eigen::MatrixXd::Zero(own + shared, own + shared);
    Eigen::VectorXd right = Eigen::VectorXd::Zero(own + shared);
    Eigen::VectorXd row(own + shared), sum = Eigen::VectorXd::Zero(shared);
    double count = 0.0;
    for (Eigen::Index g = 0; g < own; ++g) {
        for (const RegionPixel& pixel : *groups[static_cast<std::size_t>(g)]) {
            if (!(pixel.envelope > 0.0)) continue;
            row.setZero();
            row(g) = 1.0;
            const std::vector<double> all = terms(pixel.x_m, pixel.z_m);
            for (Eigen::Index n = 0; n < shared; ++n) row(own + n) = all[static_cast<std::size_t>(n)];
            normal += row * row.transpose();
            right += row * std::log(pixel.envelope);
            sum += row.tail(shared);
            count += 1.0;
        }
    }
    slopes_.assign(static_cast<std::size_t>(shared), 0.0);
    if (count < 16.0) return;
    // A single column or row has no slope across it: the least-norm solution leaves it at zero.
    const Eigen::VectorXd solved = normal.completeOrthogonalDecomposition().solve(right);
    for (Eigen::Index n = 0; n < shared; ++n) slopes_[static_cast<std::size_t>(n)] = solved(own + n);
    mean_ = solved.tail(shared).dot(sum) / count;
}

std::vector<double> Trend::terms(double x_m, double z_m) const {
    const double x = (x_m - middle_x_m_) / half_x_m_, z = (z_m - middle_z_m_) / half_z_m_;
    if (!squares_) return {x, z};
    return {x, z, x * x, z * z};
}

void Trend::flatten(std::vector<RegionPixel>& pixels) const {
    for (RegionPixel& pixel : pixels) {
        const std::vector<double> all = terms(pixel.x_m, pixel.z_m);
        double trend = -mean_;
        for (std::size_t n = 0; n < all.size(); ++n) trend += slopes_[n] * all[n];
        pixel.envelope *= std::exp(-trend);
    }
}

}  // namespace echoloom
