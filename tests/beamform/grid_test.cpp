/// Cartesian images from full-matrix and plane-wave recordings whose echoes are pure delays.

#include <gtest/gtest.h>

#include <cmath>
#include <complex>

#include "recon/image/image.h"
#include "tests/base/message.h"
#include "tests/beamform/same_on_threads.h"
#include "tests/beamform/synthetic.h"

namespace echoloom {
namespace {

using namespace echoloom::testing;

constexpr double c = 1540.0;
constexpr double pitch = 0.3e-3;

void add_point(Synthetic& recording, const Vec3& point) {
    add_echo(recording, point, 1.0, [&](const TransmitEvent& event) { return event_path_m(recording, event, point); });
}

Image image_of(const Synthetic& recording, const Recipe& recipe) {
    return form_image(beamform(recording.info, recording.reader(), recipe), recipe, recording.info);
}

/// A small grid around a point, the point itself on a pixel: 81 x 81 unless said otherwise.
Recipe around(const Vec3& point, double half_width_m, double step_m) {
    Recipe recipe;
    recipe.min_x_m = point.x() - half_width_m;
    recipe.max_x_m = point.x() + half_width_m;
    recipe.x_step_m = step_m;
    recipe.min_depth_m = point.z() - 0.5e-3;
    recipe.max_depth_m = point.z() + 0.5e-3;
    recipe.depth_step_m = 0.0125e-3;
    return recipe;
}

std::vector<double> row_through(const Image& image, std::size_t depth) {
    std::vector<double> row;
    for (std::size_t column = 0; column < image.columns; ++column) {
        row.push_back(image.envelope[column * image.depths + depth]);
    }
    return row;
}

std::vector<double> column_through(const Image& image, std::size_t column) {
    const auto begin = image.envelope.begin() + static_cast<std::ptrdiff_t>(column * image.depths);
    return {begin, begin + static_cast<std::ptrdiff_t>(image.depths)};
}

void expect_peak_in_the_middle(const Image& image, double lateral_tolerance_m) {
    const auto& grid = std::get<CartesianGrid>(image.grid);
    const double x = grid.x_m[0] + peak_place(row_through(image, 40)) * (grid.x_m[1] - grid.x_m[0]);
    const double z = grid.depth_m[0] + peak_place(column_through(image, 40)) * (grid.depth_m[1] - grid.depth_m[0]);
    EXPECT_NEAR(x, grid.x_m[40], lateral_tolerance_m);
    EXPECT_NEAR(z, grid.depth_m[40], 0.01 * 0.5 * c / 40e6);
    EXPECT_NEAR(image.envelope[40 * image.depths + 40], 1.0, 2e-3);
}

TEST(Grid, FullMatrixPutsAPointAtItsPlaceAndFullHeight) {
    const Vec3 point(2.11e-3, 0.0, 21.3e-3);
    Synthetic recording = full_matrix_recording(flat_probe(48, pitch, 5e6, 0.6), 1400);
    add_point(recording, point);
    for (const auto interpolation : {Interpolation::upsampled, Interpolation::cubic}) {
        Recipe recipe = around(point, 1e-3, 0.025e-3);
        recipe.interpolation = interpolation;
        recipe.aperture = ApertureMode::growing;
        recipe.f_number = 2.0;
        recipe.window.kind = WindowKind::hann;
        if (interpolation == Interpolation::upsampled) {
            expect_peak_in_the_middle(image_of(recording, recipe), 2e-6);
        } else {
            EXPECT_NEAR(image_of(recording, recipe).envelope[40 * 81 + 40], 1.0, 1e-2);
        }
        recipe.transmit_weights = TransmitWeights::equal;
        EXPECT_NEAR(image_of(recording, recipe).envelope[40 * 81 + 40], 1.0, 1e-2);
    }
}

TEST(Grid, PlaneWavesPutAPointAtItsPlaceAndFullHeight) {
    const Vec3 point(-1.7e-3, 0.0, 18.2e-3);
    std::vector<double> angles;
    for (int i = -5; i <= 5; ++i) {
        angles.push_back(0.03 * i);
    }
    Synthetic recording = plane_wave_recording(flat_probe(64, pitch, 5e6, 0.6), angles, 1400);
    // An origin off the centre and a late start, as another scan might have them.
    for (TransmitEvent& event : recording.info.events) {
        event.origin_m = Vec3(-4e-3, 0.0, 0.0);
        event.start_time_s = 2.003e-6;
    }
    add_point(recording, point);
    Recipe recipe = around(point, 1e-3, 0.025e-3);
    recipe.max_elements = 32;
    expect_peak_in_the_middle(image_of(recording, recipe), 2e-6);
    recipe.angle_window = Window{WindowKind::hann, 0.0};
    expect_peak_in_the_middle(image_of(recording, recipe), 2e-6);
}

/// One plane wave focuses on receive alone, one-way 1.2067 lambda F#; a full matrix both ways, 0.8859 lambda F# (G. S.
/// Kino, Acoustic Waves, 1987, ch. 3, from memory; beyond the paraxial law, for 64 points, 1.2258 and 0.9005 at
/// F# 2.08: recomputed by tests/published/recompute_arrays.py). With Hann both ways 1.4406 (recompute_windows.py),
/// raised by the same 1.6 %.
TEST(Grid, LateralWidthsOneWayAndTwoWayAreThePublishedOnes) {
    const Vec3 point(0.0, 0.0, 40e-3);
    const Probe probe = flat_probe(96, pitch, 5e6, 0.15);
    Synthetic matrix = full_matrix_recording(probe, 2500);
    add_point(matrix, point);
    Synthetic plane = plane_wave_recording(probe, {0.0}, 2500);
    add_point(plane, point);
    Recipe recipe = around(point, 1.6e-3, 0.04e-3);
    recipe.max_elements = 64;
    const double unit = (c / 5e6) * 40e-3 / (64 * pitch);
    const auto width = [&](const Synthetic& recording) {
        return width_at(row_through(image_of(recording, recipe), 40), 0.5) * 0.04e-3 / unit;
    };
    const double one_way = width(plane);
    const double two_way = width(matrix);
    recipe.window.kind = WindowKind::hann;
    const double two_way_hann = width(matrix);
    // Equal firings of all 96 elements meet a Hann window on receive: a narrower transmit beam than the window's.
    recipe.transmit_weights = TransmitWeights::equal;
    EXPECT_LT(width(matrix), 0.9 * two_way_hann);
    std::printf("widths in lambda F#: one-way %.4f, two-way %.4f, two-way Hann %.4f\n", one_way, two_way, two_way_hann);
    EXPECT_NEAR(one_way / 1.2258, 1.0, 0.005);
    EXPECT_NEAR(two_way / 0.9005, 1.0, 0.005);
    EXPECT_NEAR(two_way_hann / 1.4406, 1.0, 0.02);
}

/// The whole chain against a sum written here from the definition, in double precision with the pulse itself in place
/// of interpolation: analytic in time, so that the modulus compares too.
TEST(Grid, EqualsTheDefinitionPixelByPixel) {
    const Probe probe = flat_probe(24, pitch, 5e6, 0.6);
    Synthetic recording = full_matrix_recording(probe, 1200);
    const std::vector<Vec3> points{{0.4e-3, 0.0, 15e-3}, {-1.1e-3, 0.0, 15.6e-3}, {0.9e-3, 1e-3, 16.1e-3}};
    for (const Vec3& point : points) {
        add_point(recording, point);
    }
    Recipe recipe;
    recipe.min_x_m = -2e-3;
    recipe.max_x_m = 2e-3;
    recipe.x_step_m = 0.25e-3;
    recipe.min_depth_m = 14e-3;
    recipe.max_depth_m = 17e-3;
    recipe.depth_step_m = 0.07e-3;
    recipe.max_elements = 8;
    const Beamformed formed = beamform(recording.info, recording.reader(), recipe);
    const auto& grid = std::get<CartesianGrid>(formed.grid);
    const double sigma_t = 0.374781 / (0.6 * 5e6);  // sqrt(2 ln 2) / (pi B f0), sim/array/pulse.h
    const auto analytic_pulse = [&](double t) {
        return std::polar(std::exp(-0.5 * t * t / (sigma_t * sigma_t)), 2.0 * std::numbers::pi * 5e6 * t);
    };
    double difference = 0.0;
    double reference = 0.0;
    for (std::size_t column = 0; column < formed.columns; ++column) {
        // Share of each element's pitch inside the aperture, normalised.
        std::vector<double> weights;
        double sum = 0.0;
        for (const Element& element : probe.elements) {
            const double inside = 4.5 - std::abs(element.center_m.x() - grid.x_m[column]) / pitch;
            weights.push_back(std::min(1.0, std::max(0.0, inside)));
            sum += weights.back();
        }
        for (std::size_t d = 0; d < formed.depths; ++d) {
            const Vec3 pixel(grid.x_m[column], 0.0, grid.depth_m[d]);
            std::complex<double> exact = 0.0;
            for (std::size_t i = 0; i < 24; ++i) {
                for (std::size_t j = 0; j < 24; ++j) {
                    const Vec3& sender = probe.elements[i].center_m;
                    const Vec3& receiver = probe.elements[j].center_m;
                    const double delay = ((pixel - sender).norm() + (pixel - receiver).norm()) / c;
                    for (const Vec3& point : points) {
                        const double arrival = ((point - sender).norm() + (point - receiver).norm()) / c;
                        exact += weights[i] * weights[j] / (sum * sum) * analytic_pulse(delay - arrival);
                    }
                }
            }
            const std::size_t pixel_index = column * formed.depths + d;
            difference +=
                std::norm(exact - std::complex<double>(formed.real[pixel_index], formed.imaginary[pixel_index]));
            reference += std::norm(exact);
        }
    }
    const double error = std::sqrt(difference / reference);
    std::printf("full matrix against its definition: relative error %.2e\n", error);
    EXPECT_LT(error, 2e-3);
}

TEST(Grid, AFixedReceiveFocusIsHeldBelowEachColumn) {
    const Vec3 point(0.3e-3, 0.0, 20e-3);
    Synthetic recording = plane_wave_recording(flat_probe(64, pitch, 5e6, 0.6), {0.0}, 1400);
    add_point(recording, point);
    Recipe recipe = around(point, 1e-3, 0.025e-3);
    recipe.focus = FocusMode::fixed;
    recipe.focus_depths_m = {20e-3};
    expect_peak_in_the_middle(image_of(recording, recipe), 2e-6);
    recipe.focus_depths_m = {40e-3};
    EXPECT_LT(image_of(recording, recipe).envelope[40 * 81 + 40], 0.6F);
}

TEST(Grid, TheSameBitsOnAnyNumberOfThreads) {
    Synthetic recording = full_matrix_recording(flat_probe(24, pitch, 5e6, 0.6), 900);
    for (std::size_t e = 0; e < recording.samples.size(); ++e) {
        for (std::size_t i = 0; i < recording.samples[e].size(); ++i) {
            recording.samples[e][i] = static_cast<float>(noise(100000 * e + i));
        }
    }
    Recipe recipe;
    recipe.aperture = ApertureMode::growing;
    recipe.f_number = 1.0;
    recipe.window.kind = WindowKind::hann;
    expect_same_on_any_threads(recording, recipe);
}

/// Where channels change from event to event a batch must end: receivers taken in turns add up to all of them.
TEST(Grid, ChannelsMayChangeFromEventToEvent) {
    const Probe probe = flat_probe(32, pitch, 5e6, 0.6);
    Synthetic all = plane_wave_recording(probe, {0.0, 0.0}, 1000);
    const Vec3 point(0.0, 0.0, 14e-3);
    add_point(all, point);
    Synthetic halves = all;
    halves.info.channels = 16;
    for (std::size_t e = 0; e < 2; ++e) {
        const auto first = static_cast<std::ptrdiff_t>(16 * e);
        auto& receivers = halves.info.events[e].receivers;
        receivers.assign(all.info.events[e].receivers.begin() + first,
                         all.info.events[e].receivers.begin() + first + 16);
        const auto begin = all.samples[e].begin() + first * 1000;
        halves.samples[e].assign(begin, begin + 16 * 1000);
    }
    Recipe recipe = around(point, 1e-3, 0.025e-3);
    recipe.normalize_depth = false;
    recipe.aperture = ApertureMode::growing;
    recipe.f_number = 4.0;
    const Beamformed whole = beamform(all.info, all.reader(), recipe);
    const Beamformed turns = beamform(halves.info, halves.reader(), recipe);
    for (std::size_t i = 0; i < whole.real.size(); ++i) {
        EXPECT_NEAR(whole.real[i], 2.0F * turns.real[i], 1e-4);
    }
}

TEST(Grid, DefaultsSpanTheArrayInQuarterWavelengths) {
    const Synthetic recording = full_matrix_recording(flat_probe(32, pitch, 5e6, 0.6), 1000);
    const Beamformed formed = beamform(recording.info, recording.reader(), Recipe{});
    const auto& grid = std::get<CartesianGrid>(formed.grid);
    EXPECT_NEAR(grid.x_m.front(), -4.8e-3, 1e-9);
    EXPECT_NEAR(grid.x_m[1] - grid.x_m[0], 0.077e-3, 1e-9);
    EXPECT_NEAR(grid.depth_m[1] - grid.depth_m[0], 0.077e-3, 1e-9);
    EXPECT_LE(grid.x_m.back(), 4.8e-3 + 1e-9);
    EXPECT_GT(grid.x_m.back(), 4.8e-3 - 0.077e-3);
    EXPECT_EQ(formed.columns * formed.depths, formed.real.size());
}

TEST(Grid, RecipesAndRecordingsThatDoNotFitAreRefused) {
    const Probe probe = flat_probe(16, pitch, 5e6, 0.6);
    const Synthetic matrix = full_matrix_recording(probe, 800);
    const Synthetic planes = plane_wave_recording(probe, {0.0}, 800);
    const auto error_of = [](const Synthetic& of, const std::string& text) {
        const Recipe recipe = read_recipe(Settings::from_text(text, "r.toml"));
        return message_of([&] { beamform(of.info, of.reader(), recipe); });
    };
    EXPECT_NE(error_of(matrix, "[transmit]\nangle_window = \"hann\"")
                  .find("r.toml:2: transmit.angle_window: this recipe is for"),
              std::string::npos);
    EXPECT_NE(error_of(planes, "[transmit]\nweights = \"equal\"")
                  .find("r.toml:2: transmit.weights: this recipe is for full-matrix"),
              std::string::npos);
    EXPECT_NE(error_of(planes, "[grid]\nx_step_mm = 1e-8").find("r.toml:2: grid.x_step_mm: asks for an image of"),
              std::string::npos);
    // 5 s at 80 MHz and 2048 steps a sample are far beyond 32 bits.
    Synthetic late = planes;
    late.info.events[0].start_time_s = 5.0;
    EXPECT_NE(error_of(late, "").find("check the recording's start times"), std::string::npos) << error_of(late, "");
    Synthetic two = matrix;
    two.info.events[3].weight[0] = 1.0;
    EXPECT_NE(error_of(two, "").find("event 4 of the recording is a single-element event"), std::string::npos);
}

}  // namespace
}  // namespace echoloom
