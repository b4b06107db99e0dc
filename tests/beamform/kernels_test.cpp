/// The innermost sums against their plain twins, and the tables they run over against their definitions, on every
/// instruction set that this machine has.

#include <gtest/gtest.h>
#include <hwy/targets.h>

#include <cmath>
#include <numbers>

#include "recon/beamform/line_kernel.h"
#include "recon/beamform/taps.h"
#include "recon/beamform/tile_sum.h"
#include "recon/beamform/tile_weights.h"
#include "tests/beamform/synthetic.h"

namespace echoloom {
namespace {

using testing::noise;

constexpr auto choices = {Interpolation::linear, Interpolation::cubic, Interpolation::upsampled};

class EveryTarget : public ::testing::TestWithParam<std::int64_t> {
  public:
    void SetUp() override { hwy::SetSupportedTargetsForTest(GetParam()); }
    void TearDown() override { hwy::SetSupportedTargetsForTest(0); }
};

/// A row whose vectors lie at `place` and spread over `spread` samples, some of them without weight.
TileRow random_row(double place, double spread, std::uint64_t seed) {
    TileRow row;
    std::vector<double> positions(tile_pixels);
    for (std::size_t pixel = 0; pixel < tile_pixels; ++pixel) {
        const std::size_t vector = pixel / tile_lanes();
        positions[pixel] =
            place + 40.0 * noise(seed * 977 + vector) + 0.5 * spread * (1.0 + noise(seed * 31 + 7 * pixel));
        row.weight[pixel] = static_cast<float>(noise(seed * 13 + pixel));
    }
    row.first = 3;
    row.last = tile_pixels / tile_lanes() - 2;
    set_positions(positions, tile_pixels / tile_lanes(), row);
    turn_weights(0.1713, tile_pixels / tile_lanes(), row);
    return row;
}

/// Traces of noise with silence around them.
struct Traces {
    static constexpr std::int32_t samples = 300;
    static constexpr std::size_t row = samples + 2 * trace_silence;
    std::vector<float> bank;

    explicit Traces(std::size_t events) : bank(events * 2 * row, 0.0F) {
        for (std::size_t part = 0; part < 2 * events; ++part) {
            for (std::size_t n = 0; n < samples; ++n) {
                bank[part * row + trace_silence + n] = static_cast<float>(noise(part * 1009 + n));
            }
        }
    }
    const float* of(std::size_t event) const { return bank.data() + event * 2 * row + trace_silence; }
};

TEST_P(EveryTarget, TilesEqualTheirPlainTwinWhereverPositionsLie) {
    const Traces traces(7);
    // Narrow enough for two registers, for four, for none; in the middle, across both ends, and outside.
    for (const double spread : {0.0, 3.0, 9.0, 20.0, 50.0, 90.0}) {
        for (const double place : {-400.0, -60.0, 0.0, 75.0, 130.0, 400.0, 5e8}) {
            const TileRow receive = random_row(place, 0.5 * spread, 5);
            std::vector<TileRow> rows;
            for (std::uint64_t e = 0; e < 7; ++e) {
                rows.push_back(random_row(e == 5 ? -2000.0 : 20.0, 0.5 * spread, 100 + e));
            }
            std::vector<TileEvent> events;
            for (std::size_t e = 0; e < rows.size(); ++e) {
                events.push_back({&rows[e], traces.of(e)});
            }
            for (const Interpolation interpolation : choices) {
                TileSums fast;
                TileSums plain;
                fast.real[200] = plain.real[200] = 0.5F;
                const TraceShape shape{Traces::row, Traces::samples};
                add_to_tile(receive, events, shape, interpolation, fast);
                add_to_tile_plain(receive, events, shape, interpolation, plain);
                for (std::size_t pixel = 0; pixel < tile_pixels; ++pixel) {
                    ASSERT_NEAR(fast.real[pixel], plain.real[pixel], 3e-6)
                        << "spread " << spread << " place " << place << " pixel " << pixel;
                    ASSERT_NEAR(fast.imaginary[pixel], plain.imaginary[pixel], 3e-6);
                }
            }
        }
    }
}

TEST_P(EveryTarget, LinesEqualTheirPlainTwinWhereverTheTraceEnds) {
    constexpr std::size_t channels = 6;
    constexpr std::size_t depths = 320;
    constexpr std::int32_t samples = 500;
    std::vector<float> bank(channels * samples);
    for (std::size_t i = 0; i < bank.size(); ++i) {
        bank[i] = static_cast<float>(noise(i));
    }
    const std::size_t vectors = depths / tile_lanes();
    for (const double step : {0.2, 0.97, 1.9, 4.0}) {
        std::vector<TileRow> rows;
        for (std::size_t channel = 0; channel < channels; ++channel) {
            TileRow row(depths);
            std::vector<double> positions(depths);
            for (std::size_t d = 0; d < depths; ++d) {
                positions[d] = -30.3 + 3.7 * static_cast<double>(channel) + step * static_cast<double>(d);
                row.weight[d] = static_cast<float>(noise(17 * channel + d));
            }
            set_positions(positions, vectors, row);
            row.first = channel == 2 ? 4 : 0;
            row.last = channel == 4 ? 0 : vectors;
            rows.push_back(row);
        }
        for (const Interpolation interpolation : choices) {
            std::vector<float> fast(depths, 0.25F);
            std::vector<float> plain(depths, 0.25F);
            add_to_line(rows, {bank.data(), samples, samples}, interpolation, fast);
            add_to_line_plain(rows, {bank.data(), samples, samples}, interpolation, plain);
            for (std::size_t d = 0; d < depths; ++d) {
                ASSERT_NEAR(fast[d], plain[d], 3e-6) << "step " << step << " depth " << d;
            }
        }
    }
}

TEST_P(EveryTarget, PositionsAreThoseOfTheirPaths) {
    TilePoints points;
    for (std::size_t pixel = 0; pixel < tile_pixels; ++pixel) {
        points.set(pixel, 0.02 * Vec3(noise(3 * pixel), 0.1 * noise(3 * pixel + 1), 1.5 + noise(3 * pixel + 2)),
                   1e-3 * noise(pixel));
    }
    TilePath path{Vec3(1e-3, 2e-3, -3e-3), Vec3(0.6, 0.0, 0.8), false, 52e3, -12.25};
    for (const bool plane : {false, true}) {
        path.plane = plane;
        TileRow row;
        find_positions(points, path, tile_pixels / tile_lanes(), row);
        for (std::size_t pixel = 0; pixel < tile_pixels; ++pixel) {
            const Vec3 way = points.at(pixel) - path.from_m;
            const double length = (plane ? way.dot(path.direction) : way.norm()) + points.extra_m[pixel];
            const std::size_t vector = pixel / tile_lanes();
            EXPECT_NEAR(row.base[vector] + double(row.offset[pixel]), length * 52e3 - 12.25,
                        2e-4);  // float, up to 3,000 samples
            EXPECT_GE(row.offset[pixel], 0.0F);
            EXPECT_LE(row.offset[pixel], row.span[vector]);
            EXPECT_LE(row.span[vector], row.max_span);
            EXPECT_GE(row.base[vector], row.min_base);
            EXPECT_LE(row.base[vector], row.max_base);
        }
    }
}

TEST_P(EveryTarget, WeightsTurnWithTheCarrier) {
    const TileRow row = random_row(1234.5, 9.0, 3);
    const std::size_t lanes = tile_lanes();
    for (std::size_t pixel = 0; pixel < tile_pixels; ++pixel) {
        const std::size_t vector = pixel / lanes;
        const bool counts = vector >= row.first && vector < row.last;
        const double position = row.base[vector] + static_cast<double>(row.offset[pixel]) - TilePath::off_tie;
        const double weight = counts ? static_cast<double>(row.weight[pixel]) : 0.0;
        const double angle = 2.0 * std::numbers::pi * 0.1713 * position;
        EXPECT_NEAR(row.turned_real[pixel], weight * std::cos(angle), 5e-6);
        EXPECT_NEAR(row.turned_imaginary[pixel], weight * std::sin(angle), 5e-6);
    }
}

TEST_P(EveryTarget, WeightsAreThoseOfTheAperture) {
    RecordingInfo info = testing::full_matrix_recording(testing::flat_probe(32, 0.3e-3, 5e6, 0.6), 10).info;
    Recipe recipe;
    recipe.aperture = ApertureMode::growing;
    recipe.f_number = 1.5;
    for (const WindowKind kind : {WindowKind::rectangular, WindowKind::hann, WindowKind::dolph_chebyshev}) {
        recipe.window = {kind, kind == WindowKind::dolph_chebyshev ? 40.0 : 0.0};
        const Aperture aperture(recipe, info);
        TileApertures tile;
        for (std::size_t i = 0; i < tile_columns; ++i) {
            tile.lateral_m[i] = -2.9e-3 + 0.17e-3 * static_cast<double>(i);
        }
        for (std::size_t d = 0; d < 6; ++d) {
            tile.width_m.push_back(aperture.width_m(1.1e-3 * static_cast<double>(d)));
        }
        tile.prepare(aperture);
        const TileOrder order;
        TileRow row;
        find_weights(aperture, tile, 0.4e-3, row);
        for (std::size_t d = 0; d < 6; ++d) {
            for (std::size_t i = 0; i < tile_columns; ++i) {
                const double weight = aperture.weight(tile.width_m[d], 0.4e-3 - tile.lateral_m[i]);
                const std::size_t pixel = order.pixel(d, i);
                EXPECT_NEAR(row.weight[pixel], weight, 1e-5);
                const std::size_t vector = pixel / order.lanes();
                EXPECT_TRUE(weight == 0.0 || (vector >= row.first && vector < row.last));
            }
        }
        const std::vector<double> widths(tile_columns, 3.3e-3);
        find_weights_along(aperture, widths, 1.2e-3, row);
        EXPECT_NEAR(row.weight[5], aperture.weight(3.3e-3, 1.2e-3), 1e-5);
    }
}

INSTANTIATE_TEST_SUITE_P(Kernels, EveryTarget, ::testing::ValuesIn(hwy::SupportedAndGeneratedTargets()),
                         [](const auto& info) { return hwy::TargetName(info.param); });

TEST(Taps, ReproducePolynomialsOfTheirDegree) {
    const auto at = [](Interpolation interpolation, double fraction, auto polynomial) {
        const auto taps = plain_taps(interpolation, fraction);
        double sum = 0.0;
        for (int j = 0; j < 4; ++j) {
            sum += taps[static_cast<std::size_t>(j)] * polynomial(j - 1.0);
        }
        return sum;
    };
    const auto line = [](double x) { return 2.0 - 3.0 * x; };
    const auto cube = [](double x) { return 1.0 - x + 2.0 * x * x - 0.5 * x * x * x; };
    for (const double f : {0.0, 0.1, 0.5, 0.77, 0.999}) {
        EXPECT_NEAR(at(Interpolation::linear, f, line), line(f), 1e-12);
        EXPECT_NEAR(at(Interpolation::cubic, f, cube), cube(f), 1e-12);
    }
}

}  // namespace
}  // namespace echoloom
