#include "sim/engine/cell_size.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

#include "sim/engine/virtual_elements.h"

namespace echoloom {

namespace {

/// Scatterers that stand for a cell: a grid over its square, at its band's least and greatest height.
std::vector<Scatterer> cell_at(double x_m, double z_m, double size_m, double min_y_m, double max_y_m) {
    std::vector<Scatterer> out;
    for (const double across : {-0.5, -0.25, 0.0, 0.25, 0.5}) {
        for (const double down : {-0.5, -0.25, 0.0, 0.25, 0.5}) {
            for (const double y : {min_y_m, max_y_m}) {
                out.push_back({x_m + across * size_m, y, z_m + down * size_m, 1.0});
            }
        }
    }
    return out;
}

double middle(double least, double most, double part) {
    return least + part * (most - least);
}

/// Work of all cells, from a few places that stand for all.
double work(const EngineContext& context, const Box& bounds, double scatterers, std::size_t pairs, double size_m) {
    const Vec3 size = bounds.most - bounds.least;
    const double layers = std::max(1.0, size.z() / size_m);
    const double columns = std::max(1.0, size.x() / size_m);
    const double tall = std::max(std::abs(bounds.least.y()), std::abs(bounds.most.y()));
    double sum = 0.0;
    double weight = 0.0;
    for (const double down : {0.1, 0.35, 0.75}) {
        for (const double across : {0.1, 0.5}) {
            const double z = std::max(middle(bounds.least.z(), bounds.most.z(), down), size_m);
            const double bands = std::max(1.0, tall * tall / (2.0 * z * size_m / 4.0));
            const double cells = std::min(layers * columns * bands, scatterers);
            const double band_top = std::min(tall, std::sqrt(2.0 * z * size_m / 4.0));
            const auto cell = cell_at(middle(bounds.least.x(), bounds.most.x(), across), z,
                                      std::min(size_m, size.norm()), 0.0, band_top);
            sum += cells * cell_cost(context, cell, scatterers / cells, pairs);
            weight += 1.0;
        }
    }
    return sum / weight;
}

}  // namespace

double choose_cell_size_m(const EngineContext& context, const Box& bounds, double scatterers, std::size_t pairs,
                          double& cost) {
    const double c = context.medium.sound_speed_m_s;
    const double wavelength = c / (context.band.below_Hz > 0.0 ? 1.4 * context.band.below_Hz : context.center_Hz);
    constexpr double few = 500.0;  // too few for a choice to pay
    double best = 5.0 * wavelength;
    cost = std::numeric_limits<double>::infinity();
    for (const double wavelengths : {2.5, 3.5, 5.0, 6.0, 7.0, 8.5, 10.0, 12.0, 14.0}) {
        if (scatterers < few && wavelengths != 5.0) {
            continue;
        }
        const double size = wavelengths * wavelength;
        const double found = work(context, bounds, scatterers, pairs, size);
        if (found < cost) {
            cost = found;
            best = size;
        }
    }
    return best;
}

}  // namespace echoloom
