#include "recon/image/scan_conversion.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

#include "sim/base/parallel.h"

namespace echoloom {

namespace {

constexpr float outside = std::numeric_limits<float>::quiet_NaN();

std::vector<float> fourth_roots(std::span<const float> envelope) {
    std::vector<float> roots;
    roots.reserve(envelope.size());
    for (const float value : envelope) {
        roots.push_back(std::sqrt(std::sqrt(std::max(value, 0.0F))));
    }
    return roots;
}

float fourth_power(float root) {
    return (root * root) * (root * root);
}

/// Four samples around an index and their weights; past the edges the last sample goes on.
struct Stencil {
    std::array<std::size_t, 4> index;
    std::array<float, 4> weight;
};

/// E. Catmull & R. Rom, "A class of local interpolating splines", Computer Aided Geometric Design, 1974 (from memory).
Stencil catmull_rom(double place, std::size_t count) {
    const auto whole = static_cast<std::ptrdiff_t>(place);  // places are never negative
    const auto t = static_cast<float>(place - static_cast<double>(whole));
    Stencil stencil{{},
                    {0.5F * t * (t * (2.0F - t) - 1.0F), 0.5F * (t * t * (3.0F * t - 5.0F) + 2.0F),
                     0.5F * t * (t * (4.0F - 3.0F * t) + 1.0F), 0.5F * t * t * (t - 1.0F)}};
    const auto last = static_cast<std::ptrdiff_t>(count) - 1;
    for (std::ptrdiff_t tap = 0; tap < 4; ++tap) {
        const std::ptrdiff_t nearest = std::clamp<std::ptrdiff_t>(whole + tap - 1, 0, last);
        stencil.index[static_cast<std::size_t>(tap)] = static_cast<std::size_t>(nearest);
    }
    return stencil;
}

/// Roots of the envelope on the grid, [column, depth].
struct Roots {
    std::vector<float> values;
    std::size_t columns;
    std::size_t depths;

    float along(std::size_t column, const Stencil& stencil) const {
        const float* line = &values[column * depths];
        return stencil.weight[0] * line[stencil.index[0]] + stencil.weight[1] * line[stencil.index[1]] +
               stencil.weight[2] * line[stencil.index[2]] + stencil.weight[3] * line[stencil.index[3]];
    }

    float at(const Stencil& across, const Stencil& depth) const {
        float sum = 0.0F;
        for (std::size_t i = 0; i < 4; ++i) {
            sum += across.weight[i] * along(across.index[i], depth);
        }
        return std::max(sum, 0.0F);
    }

    float at(const LinePlace& place, const ScanLines& lines) const {
        const Stencil across = catmull_rom(place.column, columns);
        Stencil depth = catmull_rom(place.depth, depths);
        float sum = 0.0F;
        for (std::size_t i = 0; i < 4; ++i) {
            if (!lines.level()) {
                const double own = place.depth + place.advance - lines.advance(across.index[i]);
                depth = catmull_rom(std::clamp(own, 0.0, static_cast<double>(depths - 1)), depths);
            }
            sum += across.weight[i] * along(across.index[i], depth);
        }
        return std::max(sum, 0.0F);
    }
};

/// Odd count of samples per pixel: as fine as `step_m`, at least three so that a peak between pixel centres is found.
int samples_per_pixel(double step_m, double pixels_per_m, int most) {
    const double wanted = std::clamp(1.0 / (step_m * pixels_per_m), 3.0, static_cast<double>(most));
    return 2 * static_cast<int>(std::ceil((wanted - 1.0) / 2.0 - 1e-9)) + 1;
}

}  // namespace

Extent scanned_extent(const Grid& grid) {
    return ScanLines(grid).extent();
}

FanEdge fan_edge(const Grid& grid) {
    return ScanLines(grid).fan_edge();
}

int pixel_count(double length_m, double pixels_per_m) {
    return std::max(1, static_cast<int>(std::lround(length_m * pixels_per_m)));
}

std::vector<float> keep_peaks(std::span<const float> fine, int factor) {
    const auto step = static_cast<std::size_t>(factor);
    std::vector<float> coarse(fine.size() / step);
    for (std::size_t i = 0; i < coarse.size(); ++i) {
        const std::size_t first = i * step;
        coarse[i] = fine[first + step / 2];
        // Comparisons with NaN are false: samples outside the scanned area never count as larger.
        float largest = coarse[i];
        for (std::size_t k = first; k < first + step; ++k) {
            largest = fine[k] > largest ? fine[k] : largest;
        }
        const bool below_previous = first > 0 && fine[first - 1] > largest;
        const bool below_next = first + step < fine.size() && fine[first + step] > largest;
        if (!below_previous && !below_next) {
            coarse[i] = largest;
        }
    }
    return coarse;
}

namespace {

/// Fine columns per pixel: more where lines lie so flat that depth runs along x.
int columns_per_pixel(const ScanLines& lines, double pixels_per_m) {
    const double sine = lines.steepest_sine();
    return sine == 0.0 ? 3 : samples_per_pixel(lines.depth_step_m() / (sine * sine), pixels_per_m, 7);
}

/// Places across and along are found apart where lines are upright, which is most of the work of a picture otherwise;
/// to the bit the same.
struct UprightPlaces {
    std::vector<std::optional<Stencil>> columns;  ///< [fine column]
    std::vector<std::optional<Stencil>> rows;     ///< [fine row]
};

UprightPlaces upright_places(const ScanLines& lines, const Roots& roots, std::span<const double> xs,
                             std::span<const double> zs, const Extent& extent) {
    UprightPlaces places;
    std::size_t hint = 0;
    for (const double x : xs) {
        const auto place = lines.locate(x, 0.5 * (extent.least_z_m + extent.most_z_m), hint);
        places.columns.push_back(place ? std::optional(catmull_rom(place->column, roots.columns)) : std::nullopt);
    }
    for (const double z : zs) {
        const auto place = lines.locate(0.5 * (extent.least_x_m + extent.most_x_m), z, hint);
        places.rows.push_back(place ? std::optional(catmull_rom(place->depth, roots.depths)) : std::nullopt);
    }
    return places;
}

/// Centres of equal parts.
std::vector<double> part_centers(double least, std::size_t count, double parts_per_m) {
    std::vector<double> centers(count);
    for (std::size_t i = 0; i < count; ++i) {
        centers[i] = least + (static_cast<double>(i) + 0.5) / parts_per_m;
    }
    return centers;
}

/// The envelope's roots on columns `across` times as fine as the pixels, each reduced to the raster's rows;
/// [fine column, row].
std::vector<float> fine_columns(const ScanLines& lines, const Roots& roots, const Raster& raster, int across) {
    const int along = samples_per_pixel(lines.depth_step_m(), raster.pixels_per_m, 9);
    const auto width = static_cast<std::size_t>(raster.width * across);
    const auto height = static_cast<std::size_t>(raster.height);
    const std::vector<double> xs = part_centers(raster.extent.least_x_m, width, across * raster.pixels_per_m);
    const std::vector<double> zs =
        part_centers(raster.extent.least_z_m, height * static_cast<std::size_t>(along), along * raster.pixels_per_m);
    const bool upright = lines.upright();
    const UprightPlaces places = upright ? upright_places(lines, roots, xs, zs, raster.extent) : UprightPlaces{};
    std::vector<float> columns(width * height);
    FirstFailure failure;
#pragma omp parallel for schedule(static)
    for (std::size_t i = 0; i < width; ++i) {
        failure.run([&] {
            std::vector<float> fine(zs.size(), outside);
            std::size_t hint = 0;
            for (std::size_t j = 0; j < fine.size(); ++j) {
                if (upright) {
                    if (places.columns[i] && places.rows[j]) {
                        fine[j] = roots.at(*places.columns[i], *places.rows[j]);
                    }
                } else if (const std::optional<LinePlace> place = lines.locate(xs[i], zs[j], hint)) {
                    fine[j] = roots.at(*place, lines);
                }
            }
            std::ranges::copy(keep_peaks(fine, along), columns.begin() + static_cast<std::ptrdiff_t>(i * height));
        });
    }
    failure.rethrow();
    return columns;
}

/// Fine columns reduced to pixels, some rows at a time: a column's values for them lie side by side.
std::vector<float> pixel_rows(const std::vector<float>& columns, const Raster& raster, int across) {
    constexpr std::size_t together = 16;
    const auto width = static_cast<std::size_t>(raster.width);
    const auto height = static_cast<std::size_t>(raster.height);
    const std::size_t fine_width = columns.size() / height;
    std::vector<float> pixels(width * height);
    FirstFailure failure;
#pragma omp parallel for schedule(static)
    for (std::size_t first = 0; first < height; first += together) {
        failure.run([&] {
            const std::size_t rows = std::min(together, height - first);
            std::vector<float> fine(rows * fine_width);
            for (std::size_t i = 0; i < fine_width; ++i) {
                for (std::size_t row = 0; row < rows; ++row) {
                    fine[row * fine_width + i] = columns[i * height + first + row];
                }
            }
            for (std::size_t row = 0; row < rows; ++row) {
                const std::vector<float> peaks =
                    keep_peaks(std::span(fine).subspan(row * fine_width, fine_width), across);
                std::ranges::transform(peaks, pixels.begin() + static_cast<std::ptrdiff_t>((first + row) * width),
                                       fourth_power);
            }
        });
    }
    failure.rethrow();
    return pixels;
}

}  // namespace

Raster scan_convert(const Grid& grid, std::span<const float> envelope, double pixels_per_m) {
    const ScanLines lines(grid);
    const std::size_t depths = std::visit([](const auto& any) { return any.depth_m.size(); }, grid);
    Raster raster{lines.extent(), pixels_per_m, 0, 0, {}};
    raster.width = pixel_count(raster.extent.width_m(), pixels_per_m);
    raster.height = pixel_count(raster.extent.height_m(), pixels_per_m);
    const Roots roots{fourth_roots(envelope), envelope.size() / depths, depths};
    const int across = columns_per_pixel(lines, pixels_per_m);
    const std::vector<float> columns = fine_columns(lines, roots, raster, across);

    raster.values = pixel_rows(columns, raster, across);
    return raster;
}

}  // namespace echoloom
