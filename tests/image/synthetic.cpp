#include "tests/image/synthetic.h"

#include <complex>
#include <numbers>

#include "sim/base/random.h"

namespace echoloom::synthetic {

namespace {

constexpr double mm = 1e-3;

using Field = std::vector<std::complex<double>>;

/// Gaussian random numbers by Box and Muller.
std::complex<double> normal(const CounterRandom& random, std::uint64_t index) {
    const double radius = std::sqrt(-2.0 * std::log(1.0 - random.uniform(2 * index)));
    return std::polar(radius, 2.0 * std::numbers::pi * random.uniform(2 * index + 1));
}

double cyst_factor(const std::vector<Cyst>& cysts, double x, double z) {
    for (const Cyst& cyst : cysts) {
        if (std::hypot(x - cyst.x_m, z - cyst.z_m) < cyst.radius_m) {
            return std::pow(10.0, cyst.contrast_dB / 20.0);
        }
    }
    return 1.0;
}

/// Each output is a Gaussian-weighted sum over its neighbours; `sigma(i)` in samples.
Field smoothed(const Field& line, const std::function<double(std::size_t)>& sigma) {
    Field out(line.size());
    for (std::size_t i = 0; i < line.size(); ++i) {
        const double width = sigma(i);
        const auto reach = static_cast<std::ptrdiff_t>(std::ceil(3.5 * width));
        double power = 0.0;
        for (std::ptrdiff_t k = -reach; k <= reach; ++k) {
            const double weight = std::exp(-0.5 * std::pow(static_cast<double>(k) / width, 2));
            power += weight * weight;
            const auto at = static_cast<std::ptrdiff_t>(i) + k;
            if (at >= 0 && at < static_cast<std::ptrdiff_t>(line.size())) {
                out[i] += weight * line[static_cast<std::size_t>(at)];
            }
        }
        out[i] /= std::sqrt(power);
    }
    return out;
}

void smooth_across(Field& field, const LineGrid& grid, const std::function<double(double)>& sigma_m) {
    const std::size_t lines = grid.origin_m.size();
    const std::size_t depths = grid.depth_m.size();
    const double pitch = grid.origin_m[1].x() - grid.origin_m[0].x();
    Field row(lines);
    for (std::size_t j = 0; j < depths; ++j) {
        for (std::size_t i = 0; i < lines; ++i) {
            row[i] = field[i * depths + j];
        }
        row = smoothed(row, [&](std::size_t) { return sigma_m(grid.depth_m[j]) / pitch; });
        for (std::size_t i = 0; i < lines; ++i) {
            field[i * depths + j] = row[i];
        }
    }
}

void smooth_along(Field& field, const LineGrid& grid, double sigma_m) {
    const std::size_t depths = grid.depth_m.size();
    const double step = grid.depth_m[1] - grid.depth_m[0];
    for (std::size_t i = 0; i < grid.origin_m.size(); ++i) {
        const auto first = field.begin() + static_cast<std::ptrdiff_t>(i * depths);
        const Field line = smoothed(Field(first, first + static_cast<std::ptrdiff_t>(depths)),
                                    [&](std::size_t) { return sigma_m / step; });
        std::ranges::copy(line, first);
    }
}

}  // namespace

LineGrid parallel_lines(std::size_t lines, double width_m, double max_depth_m, double depth_step_m,
                        double steering_rad) {
    LineGrid grid;
    for (std::size_t i = 0; i < lines; ++i) {
        const double share = static_cast<double>(i) / static_cast<double>(lines - 1);
        grid.origin_m.emplace_back((share - 0.5) * width_m, 0.0, 0.0);
        grid.direction.emplace_back(std::sin(steering_rad), 0.0, std::cos(steering_rad));
    }
    for (double depth = 2.0 * mm; depth <= max_depth_m; depth += depth_step_m) {
        grid.depth_m.push_back(depth);
    }
    return grid;
}

Image image_of(const Grid& grid, const std::function<double(double, double)>& envelope) {
    Image image;
    image.grid = grid;
    const auto add = [&](double x, double z) { image.envelope.push_back(static_cast<float>(envelope(x, z))); };
    if (const auto* lines = std::get_if<LineGrid>(&grid)) {
        image.columns = lines->origin_m.size();
        image.depths = lines->depth_m.size();
        for (std::size_t i = 0; i < image.columns; ++i) {
            for (const double depth : lines->depth_m) {
                const Vec3 place = lines->origin_m[i] + depth * lines->direction[i];
                add(place.x(), place.z());
            }
        }
    } else {
        const auto& pixels = std::get<CartesianGrid>(grid);
        image.columns = pixels.x_m.size();
        image.depths = pixels.depth_m.size();
        for (const double x : pixels.x_m) {
            for (const double depth : pixels.depth_m) {
                add(x, depth);
            }
        }
    }
    return image;
}

double spot(double x, double z, double width_x, double width_z) {
    return std::exp(-4.0 * std::numbers::ln2 * (std::pow(x / width_x, 2) + std::pow(z / width_z, 2)));
}

Image speckle(const LineGrid& grid, const std::vector<Cyst>& cysts, double cell_growth, std::uint64_t seed) {
    const CounterRandom random(seed, 1);
    const std::size_t depths = grid.depth_m.size();
    const double width = grid.origin_m.back().x() - grid.origin_m.front().x();
    Field field(grid.origin_m.size() * depths);
    for (std::size_t i = 0; i < grid.origin_m.size(); ++i) {
        for (std::size_t j = 0; j < depths; ++j) {
            const Vec3 place = grid.origin_m[i] + grid.depth_m[j] * grid.direction[i];
            field[i * depths + j] = normal(random, i * depths + j) * cyst_factor(cysts, place.x(), place.z());
        }
        // A column of points in one line of scatterers.
        if (std::abs(grid.origin_m[i].x() + 0.3 * width) < 0.51 * width / static_cast<double>(grid.origin_m.size())) {
            for (double z = 10.0 * mm; z < grid.depth_m.back(); z += 10.0 * mm) {
                field[i * depths +
                      static_cast<std::size_t>((z - grid.depth_m[0]) / (grid.depth_m[1] - grid.depth_m[0]))] = 350.0;
            }
        }
    }
    smooth_along(field, grid, 0.12 * mm);
    smooth_across(field, grid, [&](double z) { return 0.30 * mm + cell_growth * std::abs(z - 40.0 * mm); });
    Image image;
    image.grid = grid;
    image.columns = grid.origin_m.size();
    image.depths = depths;
    for (const std::complex<double>& value : field) {
        image.envelope.push_back(static_cast<float>(std::abs(value)));
    }
    return image;
}

}  // namespace echoloom::synthetic
