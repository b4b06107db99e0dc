#include "recon/image/scan_conversion.h"

#include <gtest/gtest.h>
#include <omp.h>

#include <algorithm>
#include <cmath>

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
            const double x = raster.extent.least_x_m + (column + 0.5) / raster.pixels_per_m;
            const double z = raster.extent.least_z_m + (row + 0.5) / raster.pixels_per_m;
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

/// Peak within 0.1 dB and place within a tenth of a pixel, wherever the spot lies between samples and pixels.
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

TEST(ScanConversion, SpotsKeepPeakPlaceAndSizeOnSteeredLines) {
    expect_spots_keep(parallel_lines(128, 38.0 * mm, 40.0 * mm, 0.02 * mm, 0.35), 14.0);
    expect_spots_keep(parallel_lines(128, 38.0 * mm, 40.0 * mm, 0.02 * mm, -0.35), 8.0);
}

TEST(ScanConversion, SpotsKeepPeakPlaceAndSizeOnAFan) {
    expect_spots_keep(fan(), 14.0);
}

TEST(ScanConversion, SpotsKeepPeakPlaceAndSizeOnACartesianGrid) {
    expect_spots_keep(pixels(), 14.0);
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
                            truth, value(raster.extent.least_x_m + (column + 0.5) / raster.pixels_per_m,
                                         raster.extent.least_z_m + (row + 0.5 + 0.25 * part) / raster.pixels_per_m));
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
            const double x = raster.extent.least_x_m + (column + 0.5) / raster.pixels_per_m;
            const double z = raster.extent.least_z_m + (row + 0.5) / raster.pixels_per_m;
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

TEST(ScanConversion, GridWithoutAreaIsRefused) {
    EXPECT_THROW(scanned_extent(LineGrid{}), InputError);
    EXPECT_THROW(scanned_extent(CartesianGrid{{0.0, 0.001}, {0.01}}), InputError);
}

TEST(KeepPeaks, TakesTheMiddleUnlessAPeakLiesInside) {
    // Rising: middles. Then a peak off the middle of the third group: kept. Then falling: middles.
    const std::vector<float> fine{1, 2, 3, 4, 5, 6, 7, 9, 8.5F, 8, 7, 6};
    EXPECT_EQ(keep_peaks(fine, 3), (std::vector<float>{2, 5, 9, 7}));
    const std::vector<float> between{1, 2, 6, 6, 2, 1};  // a peak just between two groups belongs to both
    EXPECT_EQ(keep_peaks(between, 3), (std::vector<float>{6, 6}));
    const float none = std::nanf("");
    const std::vector<float> edge = keep_peaks(std::vector<float>{none, none, 4, 5, 3, none}, 3);
    EXPECT_TRUE(std::isnan(edge[0]));
    EXPECT_EQ(edge[1], 5.0F);
}

}  // namespace
}  // namespace echoloom
