#include "recon/image/scan_conversion.h"

#include <omp.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <functional>
#include <limits>

#include "recon/image/pixel_parts.h"
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

    float axial(std::size_t column, const Stencil& stencil) const {
        const float* line = &values[column * depths];
        return stencil.weight[0] * line[stencil.index[0]] + stencil.weight[1] * line[stencil.index[1]] +
               stencil.weight[2] * line[stencil.index[2]] + stencil.weight[3] * line[stencil.index[3]];
    }

    float at(const LinePlace& place, const ScanLines& lines) const {
        const Stencil lateral = catmull_rom(place.column, columns);
        Stencil depth = catmull_rom(place.depth, depths);
        float sum = 0.0F;
        for (std::size_t i = 0; i < 4; ++i) {
            if (!lines.level()) {
                const double own = place.depth + place.advance - lines.advance(lateral.index[i]);
                depth = catmull_rom(std::clamp(own, 0.0, static_cast<double>(depths - 1)), depths);
            }
            sum += lateral.weight[i] * axial(lateral.index[i], depth);
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

namespace {

/// Fine columns per pixel: more where lines lie so flat that depth runs along x.
int columns_per_pixel(const ScanLines& lines, double pixels_per_m) {
    const double sine = lines.steepest_sine();
    return sine == 0.0 ? 3 : samples_per_pixel(lines.depth_step_m() / (sine * sine), pixels_per_m, 7);
}

/// Centres of equal parts.
std::vector<double> part_centers(double least, std::size_t count, double parts_per_m) {
    std::vector<double> centers(count);
    for (std::size_t i = 0; i < count; ++i) {
        centers[i] = least + (static_cast<double>(i) + 0.5) / parts_per_m;
    }
    return centers;
}

/// Where the envelope's root is wanted: `lateral` columns and `axial` rows to a pixel.
struct FinePlaces {
    std::vector<double> x_m;  ///< [fine column]
    std::vector<double> z_m;  ///< [fine row]
    std::size_t lateral, axial;
    std::size_t rows() const { return z_m.size() / axial; }
};

FinePlaces fine_places(const ScanLines& lines, const Raster& raster) {
    const int lateral = columns_per_pixel(lines, raster.pixels_per_m);
    const int axial = samples_per_pixel(lines.depth_step_m(), raster.pixels_per_m, 9);
    return {part_centers(raster.extent.min_x_m, static_cast<std::size_t>(raster.width * lateral),
                         lateral * raster.pixels_per_m),
            part_centers(raster.extent.min_z_m, static_cast<std::size_t>(raster.height * axial),
                         axial * raster.pixels_per_m),
            static_cast<std::size_t>(lateral), static_cast<std::size_t>(axial)};
}

/// Upright lines, whose lateral and axial places are found apart: first along each line, then lateral. To the bit what
/// slanted_column would find, at a fraction of its time.
class UprightColumns {
  public:
    UprightColumns(const ScanLines& lines, const Roots& roots, const FinePlaces& places, const Extent& extent)
        : rows_(places.z_m.size()), axial_(roots.columns * rows_, outside) {
        std::size_t hint = 0;
        for (const double x : places.x_m) {
            const auto place = lines.locate(x, 0.5 * (extent.min_z_m + extent.max_z_m), hint);
            lateral_.push_back(place ? std::optional(catmull_rom(place->column, roots.columns)) : std::nullopt);
        }
        std::vector<std::optional<Stencil>> depth;  // [fine row]
        for (const double z : places.z_m) {
            const auto place = lines.locate(0.5 * (extent.min_x_m + extent.max_x_m), z, hint);
            depth.push_back(place ? std::optional(catmull_rom(place->depth, roots.depths)) : std::nullopt);
        }
#pragma omp parallel for schedule(static)
        for (std::size_t column = 0; column < roots.columns; ++column) {
            float* line = &axial_[column * rows_];
            for (std::size_t rank = 0; rank < places.axial; ++rank) {
                for (std::size_t j = rank; j < rows_; j += places.axial, ++line) {
                    *line = depth[j] ? roots.axial(column, *depth[j]) : outside;
                }
            }
        }
    }

    void fill(std::size_t column, PixelParts& parts) const {
        for (std::size_t rank = 0; rank < parts.parts(); ++rank) {
            fill(lateral_[column], rank * parts.pixels(), parts.part(rank));
        }
    }

  private:
    void fill(const std::optional<Stencil>& lateral, std::size_t first, std::span<float> samples) const {
        if (!lateral) {
            std::ranges::fill(samples, outside);
            return;
        }
        std::array<const float*, 4> line{};
        for (std::size_t i = 0; i < 4; ++i) {
            line[i] = &axial_[lateral->index[i] * rows_ + first];
        }
        const std::array<float, 4> weight = lateral->weight;
        for (std::size_t j = 0; j < samples.size(); ++j) {
            const float sum = 0.0F + weight[0] * line[0][j] + weight[1] * line[1][j] + weight[2] * line[2][j] +
                              weight[3] * line[3][j];
            samples[j] = std::max(sum, 0.0F);
        }
    }

    std::size_t rows_;                             ///< fine ones
    std::vector<std::optional<Stencil>> lateral_;  ///< [fine column]
    std::vector<float> axial_;                     ///< roots at the fine rows, [grid's column, part, row]
};

/// The envelope's roots along a fine column, wherever lines run.
void slanted_column(const ScanLines& lines, const Roots& roots, const FinePlaces& places, std::size_t column,
                    PixelParts& parts) {
    std::size_t hint = 0;
    for (std::size_t row = 0; row < parts.pixels(); ++row) {
        for (std::size_t rank = 0; rank < parts.parts(); ++rank) {
            const auto place = lines.locate(places.x_m[column], places.z_m[row * parts.parts() + rank], hint);
            parts.part(rank)[row] = place ? roots.at(*place, lines) : outside;
        }
    }
}

/// Fine columns, made one after another and reduced to the raster's rows, then to its pixels.
class PixelColumns {
  public:
    using Fill = std::function<void(std::size_t column, PixelParts& parts)>;

    PixelColumns(const FinePlaces& places, const Fill& fill)
        : fill_(fill),
          fine_count_(places.x_m.size()),
          lateral_(places.lateral),
          parts_(places.rows(), places.axial),
          columns_(lateral_ + 2, std::vector<float>(places.rows())) {}

    /// Roots of the pixels of some columns side by side, [column, row].
    void run(std::size_t first, std::size_t count, std::span<float> pixels) {
        const std::size_t rows = parts_.pixels();
        for (std::size_t i = 0; i < count; ++i) {
            // The last two of one pixel are the first two of the next: one outside of it and its first.
            std::swap(columns_[0], columns_[lateral_]);
            std::swap(columns_[1], columns_[lateral_ + 1]);
            for (std::size_t k = i == 0 ? 0 : 2; k < columns_.size(); ++k) {
                fill_column((first + i) * lateral_ + k, columns_[k]);
            }
            std::vector<const float*> fine;
            for (std::size_t k = 1; k <= lateral_; ++k) {
                fine.push_back(columns_[k].data());
            }
            keep_peaks(fine, columns_.front().data(), columns_.back().data(), pixels.subspan(i * rows, rows));
        }
    }

  private:
    /// `one_after` counts from 1: there is nothing before the first and after the last column.
    void fill_column(std::size_t one_after, std::span<float> column) {
        if (one_after == 0 || one_after > fine_count_) {
            std::ranges::fill(column, outside);
            return;
        }
        fill_(one_after - 1, parts_);
        parts_.reduce(column);
    }

    const Fill& fill_;
    std::size_t fine_count_, lateral_;
    PixelParts parts_;
    std::vector<std::vector<float>> columns_;  ///< of a pixel, and one on either side
};

/// Rows of the raster from columns side by side.
void store(std::span<const float> roots, std::size_t first, std::size_t count, Raster& raster) {
    const auto width = static_cast<std::size_t>(raster.width);
    const auto height = static_cast<std::size_t>(raster.height);
    for (std::size_t row = 0; row < height; ++row) {
        for (std::size_t i = 0; i < count; ++i) {
            raster.values[row * width + first + i] = fourth_power(roots[i * height + row]);
        }
    }
}

void fill_raster(Raster& raster, const FinePlaces& places, const PixelColumns::Fill& fill) {
    constexpr std::size_t together = 16;
    const auto width = static_cast<std::size_t>(raster.width);
    raster.values.resize(width * places.rows());
    FirstFailure failure;
#pragma omp parallel
    failure.run([&] {
        PixelColumns columns(places, fill);
        std::vector<float> roots(together * places.rows());
        // Blocks to each thread in turn; which thread takes one changes nothing.
        const auto threads = static_cast<std::size_t>(omp_get_num_threads());
        for (auto block = static_cast<std::size_t>(omp_get_thread_num()); block * together < width; block += threads) {
            const std::size_t first = block * together;
            const std::size_t count = std::min(together, width - first);
            columns.run(first, count, roots);
            store(roots, first, count, raster);
        }
    });
    failure.rethrow();
}

}  // namespace

Raster scan_convert(const Grid& grid, std::span<const float> envelope, double pixels_per_m) {
    const ScanLines lines(grid);
    const std::size_t depths = std::visit([](const auto& any) { return any.depth_m.size(); }, grid);
    Raster raster{lines.extent(), pixels_per_m, 0, 0, {}};
    raster.width = pixel_count(raster.extent.width_m(), pixels_per_m);
    raster.height = pixel_count(raster.extent.height_m(), pixels_per_m);
    const Roots roots{fourth_roots(envelope), envelope.size() / depths, depths};
    const FinePlaces places = fine_places(lines, raster);
    if (lines.upright()) {
        const UprightColumns columns(lines, roots, places, raster.extent);
        fill_raster(raster, places, [&](std::size_t i, PixelParts& parts) { columns.fill(i, parts); });
    } else {
        fill_raster(raster, places,
                    [&](std::size_t i, PixelParts& parts) { slanted_column(lines, roots, places, i, parts); });
    }
    return raster;
}

}  // namespace echoloom
