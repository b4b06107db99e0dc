#include "recon/image/scan_conversion.h"

#include <gtest/gtest.h>
#include <omp.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <optional>
#include <span>
#include <utility>
#include <vector>

#include "recon/image/pixel_parts.h"
#include "sim/base/error.h"
#include "tests/image/synthetic.h"

namespace echoloom {
namespace {

using synthetic::image_of;
using synthetic::parallel_lines;
using synthetic::spot;

constexpr double mm = 1e-3;
// An echo of a 5 MHz pulse of 60 % bandwidth is 0.23 mm long; a beam is 1 mm and more wide over most depths.
constexpr double spot_width = 1.0 * mm;
constexpr double spot_length = 0.23 * mm;

double dB(double ratio) {
    return 20.0 * std::log10(ratio);
}

LineGrid fan() {
    LineGrid grid = parallel_lines(160, 1.0 * mm, 50.0 * mm, 0.02 * mm);
    constexpr double radius = 40.0 * mm;
    for (std::size_t i = 0; i < grid.origin_m.size(); ++i) {
        const double angle = (static_cast<double>(i) / 159.0 - 0.5) * 1.0;
        grid.direction[i] = {std::sin(angle), 0.0, std::cos(angle)};
        grid.origin_m[i] = radius * (grid.direction[i] - Vec3::UnitZ());
    }
    return grid;
}

CartesianGrid pixels() {
    CartesianGrid grid;
    for (int i = 0; i <= 200; ++i) {
        grid.x_m.push_back((i - 100) * 0.15 * mm);
    }
    for (int j = 0; j <= 1000; ++j) {
        grid.depth_m.push_back((5.0 + 0.03 * j) * mm);
    }
    return grid;
}

struct Blob {
    double peak = 0.0;
    double x_m = 0.0, z_m = 0.0;           ///< centroid
    double width_m = 0.0, length_m = 0.0;  ///< at half amplitude, from the second moments of a Gaussian
};

/// What can be read off a raster that shows one spot.
Blob read(const Raster& raster) {
    Blob blob;
    double sum = 0.0;
    double xx = 0.0;
    double zz = 0.0;
    for (int row = 0; row < raster.height; ++row) {
        for (int column = 0; column < raster.width; ++column) {
            const double value = std::isnan(raster.at(column, row)) ? 0.0 : raster.at(column, row);
            const double x = raster.extent.min_x_m + (column + 0.5) / raster.pixels_per_m;
            const double z = raster.extent.min_z_m + (row + 0.5) / raster.pixels_per_m;
            blob.peak = std::max(blob.peak, value);
            sum += value;
            blob.x_m += value * x;
            blob.z_m += value * z;
            xx += value * x * x;
            zz += value * z * z;
        }
    }
    blob.x_m /= sum;
    blob.z_m /= sum;
    const double half_amplitude = 2.0 * std::sqrt(2.0 * std::log(2.0));
    blob.width_m = half_amplitude * std::sqrt(xx / sum - blob.x_m * blob.x_m);
    blob.length_m = half_amplitude * std::sqrt(zz / sum - blob.z_m * blob.z_m);
    return blob;
}

/// Peak within 0.1 dB and place within a tenth of a pixel (less than an eye sees: common practice, no source), wherever
/// the spot lies between samples and pixels.
void expect_spots_keep(const Grid& grid, double pixels_per_mm) {
    for (int step = 0; step < 6; ++step) {
        const double x = (1.3 + 0.0637 * step) * mm;
        const double z = (21.0 + 0.0171 * step) * mm;
        const auto value = [&](double px, double pz) { return spot(px - x, pz - z, spot_width, spot_length); };
        const Image image = image_of(grid, value);
        const Blob blob = read(scan_convert(image.grid, image.envelope, pixels_per_mm / mm));
        EXPECT_NEAR(dB(blob.peak), 0.0, 0.1) << step;
        EXPECT_NEAR(blob.x_m * pixels_per_mm / mm, x * pixels_per_mm / mm, 0.1) << step;
        EXPECT_NEAR(blob.z_m * pixels_per_mm / mm, z * pixels_per_mm / mm, 0.1) << step;
        EXPECT_NEAR(blob.width_m, spot_width, 0.02 * mm) << step;
        EXPECT_NEAR(blob.length_m, spot_length, 0.02 * mm) << step;
    }
}

TEST(ScanConversion, SpotsKeepPeakPlaceAndSizeOnParallelLines) {
    const LineGrid grid = parallel_lines(128, 38.0 * mm, 40.0 * mm, 0.02 * mm);
    expect_spots_keep(grid, 14.0);
    expect_spots_keep(grid, 8.0);
}

TEST(ScanConversion, SpotsKeepPeakPlaceAndSizeOnAFan) {
    expect_spots_keep(fan(), 14.0);
}

TEST(ScanConversion, SpotsKeepPeakPlaceAndSizeOnACartesianGrid) {
    expect_spots_keep(pixels(), 14.0);
}

// The six geometries a scan can have, spots at off-grid places over their whole area. A beam is at least three line
// spacings wide (and never narrower than 0.6 mm), as an image that is not undersampled has it.

/// Lines that leave a face by `place` and go by `angle`, both functions of a share from -1 to 1.
template <typename Place, typename Angle>
LineGrid lines_of(int count, double max_depth_mm, double step_mm, Place place, Angle angle) {
    LineGrid grid;
    for (int i = 0; i < count; ++i) {
        const double share = (2.0 * i - (count - 1)) / (count - 1);
        const double turn = angle(share);
        grid.direction.emplace_back(std::sin(turn), 0.0, std::cos(turn));
        grid.origin_m.push_back(place(share, grid.direction.back()));
    }
    for (double depth = 0.0; depth <= max_depth_mm * mm; depth += step_mm * mm) {
        grid.depth_m.push_back(depth);
    }
    return grid;
}

/// Where the lines would cross: echoes lie on arcs about it. Empty for parallel lines.
struct Geometry {
    const char* name;
    LineGrid grid;
    std::optional<Vec3> apex;
    double pulse_m;
};

std::vector<Geometry> geometries() {
    const auto flat = [](double share, const Vec3&) { return Vec3(20.0 * mm * share, 0.0, 0.0); };
    const auto point = [](double, const Vec3&) { return Vec3(Vec3::Zero()); };
    const auto arc_of = [](double radius_mm) {
        return [=](double, const Vec3& direction) { return Vec3(radius_mm * mm * (direction - Vec3::UnitZ())); };
    };
    const auto even = [](double max_rad) { return [=](double share) { return max_rad * share; }; };
    const auto steered = [](double) { return 0.35; };
    constexpr double fan_rad = 0.35;
    const double behind = 20.0 * mm / std::tan(fan_rad);
    const auto fanned = [=](double share, const Vec3&) { return Vec3(behind * std::tan(fan_rad * share), 0.0, 0.0); };
    const auto at = [](double z_mm) { return Vec3(0.0, 0.0, z_mm * mm); };
    const double low = 0.33 * mm;  // the echo of a 3.5 MHz pulse of 60 % bandwidth
    return {{"rectangle", lines_of(128, 60.0, 0.02, flat, even(0.0)), {}, spot_length},
            {"parallelogram", lines_of(128, 60.0, 0.02, flat, steered), {}, spot_length},
            {"trapezoid", lines_of(128, 60.0, 0.02, fanned, even(fan_rad)), at(-behind / mm), spot_length},
            {"sector of a curved array", lines_of(128, 80.0, 0.03, arc_of(60.0), even(0.5)), at(-60.0), low},
            {"the same, few lines", lines_of(64, 80.0, 0.03, arc_of(60.0), even(0.5)), at(-60.0), low},
            {"sector from a point", lines_of(128, 80.0, 0.03, point, even(0.785)), at(0.0), low},
            {"sector of 160 degrees", lines_of(161, 60.0, 0.03, point, even(1.396)), at(0.0), low},
            {"swept sector", lines_of(60, 70.0, 0.03, arc_of(8.0), even(0.7)), at(-8.0), low}};
}

/// An echo on its front: at (x, z), of a width across and a length along its line.
struct Echo {
    Vec3 centre, along;
    double width_m, length_m;
    std::optional<Vec3> apex;

    double operator()(double x, double z) const {
        const Vec3 offset = Vec3(x, 0.0, z) - centre;
        if (offset.squaredNorm() > 9.0 * (width_m * width_m + length_m * length_m)) {
            return 0.0;  // below -200 dB
        }
        double across = offset.x() * along.z() - offset.z() * along.x();
        double depth = offset.dot(along);
        if (apex) {
            const Vec3 from = Vec3(x, 0.0, z) - *apex;
            const double range = (centre - *apex).norm();
            depth = from.norm() - range;
            across = range * (std::atan2(from.x(), from.z()) - std::atan2(along.x(), along.z()));
        }
        return spot(across, depth, width_m, length_m);
    }
};

/// Off-grid places at several angles and depths, far enough apart that each can be read by itself.
std::vector<Echo> echoes_in(const Geometry& geometry) {
    const LineGrid& grid = geometry.grid;
    std::vector<Echo> echoes;
    for (const double share : {0.12, 0.31, 0.52, 0.77, 0.9}) {
        for (const double depth_share : {0.2, 0.45, 0.71, 0.93}) {
            const double place = share * static_cast<double>(grid.origin_m.size() - 1) + 0.37;
            const auto line = static_cast<std::size_t>(place);
            const double between = place - static_cast<double>(line);
            const double depth = depth_share * grid.depth_m.back() + 0.0113 * mm;
            const Vec3 here = grid.origin_m[line] + depth * grid.direction[line];
            const Vec3 next = grid.origin_m[line + 1] + depth * grid.direction[line + 1];
            const Vec3 centre = here + between * (next - here);
            const Vec3 along = geometry.apex ? Vec3((centre - *geometry.apex).normalized()) : grid.direction[line];
            echoes.push_back(
                {centre, along, std::max(3.0 * (next - here).norm(), 0.6 * mm), geometry.pulse_m, geometry.apex});
        }
    }
    return echoes;
}

/// What a window of a raster shows against what is truly there: the peak in dB, the centroid in pixels.
struct Deviation {
    double peak_dB, pixels;
};

Deviation deviation(const Raster& raster, const Echo& echo) {
    const double reach = std::max(1.1 * echo.width_m, 2.0 * echo.length_m);
    double peak = 0.0;
    std::array<double, 3> shown{};  // sum, and moments along x and z
    std::array<double, 3> there{};
    const auto window = [&](double centre_m, double min_m, int count) {
        const double middle = (centre_m - min_m) * raster.pixels_per_m;
        const double half = reach * raster.pixels_per_m;
        return std::pair{std::max(0, static_cast<int>(middle - half)),
                         std::min(count, static_cast<int>(middle + half) + 1)};
    };
    const auto [top, bottom] = window(echo.centre.z(), raster.extent.min_z_m, raster.height);
    const auto [left, right] = window(echo.centre.x(), raster.extent.min_x_m, raster.width);
    for (int row = top; row < bottom; ++row) {
        for (int column = left; column < right; ++column) {
            const double x = raster.extent.min_x_m + (column + 0.5) / raster.pixels_per_m;
            const double z = raster.extent.min_z_m + (row + 0.5) / raster.pixels_per_m;
            const double truth = echo(x, z);
            const double value = raster.at(column, row);
            if (std::hypot(x - echo.centre.x(), z - echo.centre.z()) > reach || truth < 0.1 || std::isnan(value)) {
                continue;
            }
            peak = std::max(peak, value);
            for (const auto& [sums, weight] : {std::pair{&shown, value}, {&there, truth}}) {
                (*sums)[0] += weight;
                (*sums)[1] += weight * (x - echo.centre.x());
                (*sums)[2] += weight * (z - echo.centre.z());
            }
        }
    }
    return {std::abs(dB(peak)), raster.pixels_per_m * std::hypot(shown[1] / shown[0] - there[1] / there[0],
                                                                 shown[2] / shown[0] - there[2] / there[0])};
}

TEST(ScanConversion, PointsKeepPeakAndPlaceInEveryGeometry) {
    for (const Geometry& geometry : geometries()) {
        const std::vector<Echo> echoes = echoes_in(geometry);
        const auto all = [&](double x, double z) {
            double sum = 0.0;
            for (const Echo& echo : echoes) {
                sum += echo(x, z);
            }
            return sum;
        };
        const Image image = image_of(geometry.grid, all);
        for (const double pixels_per_mm : {14.0, 9.0}) {
            const Raster raster = scan_convert(image.grid, image.envelope, pixels_per_mm / mm);
            Deviation worst{0.0, 0.0};
            for (const Echo& echo : echoes) {
                const Deviation one = deviation(raster, echo);
                worst = {std::max(worst.peak_dB, one.peak_dB), std::max(worst.pixels, one.pixels)};
            }
            std::printf("    %s, %g pixels per mm: peak to %.3f dB, place to %.3f pixels\n", geometry.name,
                        pixels_per_mm, worst.peak_dB, worst.pixels);
            EXPECT_LT(worst.peak_dB, 0.1) << geometry.name << " " << pixels_per_mm;
            EXPECT_LT(worst.pixels, 0.1) << geometry.name << " " << pixels_per_mm;
        }
    }
}

TEST(ScanConversion, AllLinesMeetAtTheApexWithoutAMark) {
    // Every line begins at one point; what is smooth there must stay so, up to 160 degrees.
    const auto point = [](double, const Vec3&) { return Vec3(Vec3::Zero()); };
    for (const double max_rad : {0.785, 1.396}) {
        const LineGrid grid = lines_of(129, 20.0, 0.03, point, [=](double share) { return max_rad * share; });
        const auto value = [](double x, double z) { return 1.0 + 0.5 * std::cos(500.0 * x) * std::cos(300.0 * z); };
        const Image image = image_of(grid, value);
        const Raster raster = scan_convert(image.grid, image.envelope, 14.0 / mm);
        int seen = 0;
        for (int row = 0; row < 60; ++row) {
            for (int column = 0; column < raster.width; ++column) {
                const double x = raster.extent.min_x_m + (column + 0.5) / raster.pixels_per_m;
                const double z = raster.extent.min_z_m + (row + 0.5) / raster.pixels_per_m;
                const bool inside = std::abs(std::atan2(x, z)) < max_rad - 1e-9 && std::hypot(x, z) < 19.9 * mm;
                if (inside) {
                    EXPECT_NEAR(raster.at(column, row), value(x, z), 0.02) << x / mm << " " << z / mm;
                    ++seen;
                } else if (std::abs(std::atan2(x, z)) > max_rad + 1e-9) {
                    EXPECT_TRUE(std::isnan(raster.at(column, row))) << x / mm << " " << z / mm;
                }
            }
        }
        EXPECT_GT(seen, 1000);
    }
}

TEST(ScanConversion, NarrowBeamsGetNoFalseSideLobes) {
    // Beams of 1.6 to 2.5 line spacings: in amplitude a windowed sinc would ring at -35 dB, here nothing exceeds the
    // truth by more than 1.5 dB down to -60 dB.
    const double pitch = 0.3 * mm;
    const LineGrid grid = parallel_lines(101, 100.0 * pitch, 30.0 * mm, 0.02 * mm);
    const double floor = 1e-3;
    for (const double width : {1.6 * pitch, 2.5 * pitch}) {
        for (const double offset : {0.0, 0.25 * pitch, 0.5 * pitch}) {
            const auto value = [&](double x, double z) { return spot(x - offset, z - 15.0 * mm, width, spot_length); };
            const Image image = image_of(grid, value);
            const Raster raster = scan_convert(image.grid, image.envelope, 14.0 / mm);
            double excess = 0.0;
            for (int row = 0; row < raster.height; ++row) {
                for (int column = 0; column < raster.width; ++column) {
                    // Allowed: the largest true value within the pixel, sampled finely along depth.
                    double truth = floor;
                    for (int part = -2; part <= 2; ++part) {
                        truth = std::max(
                            truth, value(raster.extent.min_x_m + (column + 0.5) / raster.pixels_per_m,
                                         raster.extent.min_z_m + (row + 0.5 + 0.25 * part) / raster.pixels_per_m));
                    }
                    excess = std::max(excess, dB(raster.at(column, row) / truth));
                }
            }
            EXPECT_LT(excess, 1.5) << width / pitch << " " << offset / pitch;
        }
    }
}

TEST(ScanConversion, OutsideTheScannedAreaThereIsNothing) {
    const double angle = 0.35;
    const LineGrid grid = parallel_lines(64, 20.0 * mm, 30.0 * mm, 0.05 * mm, angle);
    const Image image = image_of(grid, [](double, double) { return 1.0; });
    const Raster raster = scan_convert(image.grid, image.envelope, 10.0 / mm);
    int inside = 0;
    for (int row = 0; row < raster.height; ++row) {
        for (int column = 0; column < raster.width; ++column) {
            const double x = raster.extent.min_x_m + (column + 0.5) / raster.pixels_per_m;
            const double z = raster.extent.min_z_m + (row + 0.5) / raster.pixels_per_m;
            const double on_face = x - z * std::tan(angle);
            const double margin = 1e-6;
            if (std::abs(on_face) < 10.0 * mm - margin) {
                EXPECT_NEAR(raster.at(column, row), 1.0, 1e-5);
                ++inside;
            } else if (std::abs(on_face) > 10.0 * mm + margin) {
                EXPECT_TRUE(std::isnan(raster.at(column, row))) << column << " " << row;
            }
        }
    }
    EXPECT_GT(inside, 30000);
}

TEST(ScanConversion, OrderOfTheLinesDoesNotMatter) {
    const LineGrid grid = parallel_lines(64, 20.0 * mm, 20.0 * mm, 0.05 * mm, 0.2);
    LineGrid mirrored = grid;
    std::ranges::reverse(mirrored.origin_m);
    std::ranges::reverse(mirrored.direction);
    const auto value = [](double x, double z) { return spot(x - 3.0 * mm, z - 9.0 * mm, spot_width, spot_length); };
    const Blob blob = read(scan_convert(grid, image_of(grid, value).envelope, 14.0 / mm));
    const Blob same = read(scan_convert(mirrored, image_of(mirrored, value).envelope, 14.0 / mm));
    EXPECT_NEAR(blob.x_m, same.x_m, 1e-7);
    EXPECT_NEAR(blob.z_m, same.z_m, 1e-7);
    EXPECT_NEAR(blob.peak, same.peak, 1e-5);
}

TEST(ScanConversion, SameBitsOnAnyNumberOfThreads) {
    const LineGrid grid = parallel_lines(48, 12.0 * mm, 16.0 * mm, 0.02 * mm);
    const Image image = synthetic::speckle(grid, {}, 0.0, 5);
    std::vector<std::vector<float>> results;
    const int before = omp_get_max_threads();
    for (const int threads : {1, 2, 3}) {
        omp_set_num_threads(threads);
        results.push_back(scan_convert(image.grid, image.envelope, 14.0 / mm).values);
    }
    omp_set_num_threads(before);
    EXPECT_EQ(results[0], results[1]);
    EXPECT_EQ(results[0], results[2]);
}

TEST(ScanConversion, SingleLineIsDrawnAsAStrip) {
    LineGrid grid = parallel_lines(2, 2.0 * mm, 22.0 * mm, 0.02 * mm);
    grid.origin_m.resize(1);
    grid.direction.resize(1);
    const Image image = image_of(grid, [](double, double z) { return spot(0.0, z - 10.0 * mm, 1.0, spot_length); });
    const Extent extent = scanned_extent(image.grid);
    EXPECT_NEAR(extent.width_m(), 2.0 * mm, 0.01 * mm);
    EXPECT_NEAR(dB(read(scan_convert(image.grid, image.envelope, 14.0 / mm)).peak), 0.0, 0.1);
}

TEST(ScanConversion, SingleTiltedLineShowsDepthAlongIt) {
    LineGrid grid = parallel_lines(2, 2.0 * mm, 22.0 * mm, 0.02 * mm, 0.4);
    grid.origin_m = {Vec3::Zero()};
    grid.direction.resize(1);
    const Vec3 place = 10.0 * mm * grid.direction[0];
    const Image image = image_of(
        grid, [&](double x, double z) { return spot(0.0, Vec3(x, 0.0, z).norm() - 10.0 * mm, 1.0, spot_length); });
    const Blob blob = read(scan_convert(image.grid, image.envelope, 14.0 / mm));
    EXPECT_NEAR(blob.x_m, place.x(), 0.01 * mm);
    EXPECT_NEAR(blob.z_m, place.z(), 0.01 * mm);
}

TEST(ScanConversion, GridWithoutAreaIsRefused) {
    EXPECT_THROW(scanned_extent(LineGrid{}), InputError);
    EXPECT_THROW(scanned_extent(CartesianGrid{{0.0, 0.001}, {0.01}}), InputError);
}

std::vector<float> reduced(std::span<const float> fine, std::size_t parts) {
    PixelParts pixels(fine.size() / parts, parts);
    for (std::size_t i = 0; i < fine.size(); ++i) {
        pixels.part(i % parts)[i / parts] = fine[i];
    }
    std::vector<float> coarse(pixels.pixels());
    pixels.reduce(coarse);
    return coarse;
}

TEST(PixelParts, KeepsTheMiddleUnlessAPeakLiesInside) {
    // Rising: middles. Then a peak off the middle of the third group: kept. Then falling: middles.
    const std::vector<float> fine{1, 2, 3, 4, 5, 6, 7, 9, 8.5F, 8, 7, 6};
    EXPECT_EQ(reduced(fine, 3), (std::vector<float>{2, 5, 9, 7}));
    const std::vector<float> between{1, 2, 6, 6, 2, 1};  // a peak just between two groups belongs to both
    EXPECT_EQ(reduced(between, 3), (std::vector<float>{6, 6}));
    const float none = std::nanf("");
    const std::vector<float> edge = reduced(std::vector<float>{none, none, 4, 5, 3, none}, 3);
    EXPECT_TRUE(std::isnan(edge[0]));
    EXPECT_EQ(edge[1], 5.0F);
}

}  // namespace
}  // namespace echoloom
