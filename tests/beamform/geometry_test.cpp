/// Curved arrays, rows, rings, rotating heads and sectors, each against delay-and-sum written here from its definition,
/// in double precision with the pulse itself in place of interpolation.

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <complex>

#include "recon/beamform/line_table.h"
#include "recon/image/image.h"
#include "tests/base/message.h"
#include "tests/beamform/same_on_threads.h"
#include "tests/beamform/synthetic.h"

namespace echoloom {
namespace {

using namespace echoloom::testing;

constexpr double c = 1540.0;
constexpr double pitch = 0.3e-3;
constexpr double radius = 25e-3;
constexpr double sigma_t = 0.374781 / (0.6 * 5e6);  // sqrt(2 ln 2) / (pi B f0), sim/array/pulse.h

std::complex<double> analytic_pulse(double t) {
    return std::polar(std::exp(-0.5 * t * t / (sigma_t * sigma_t)), 2.0 * std::numbers::pi * 5e6 * t);
}

Vec3 direction(double angle) {
    return {std::sin(angle), 0.0, std::cos(angle)};
}

/// Share of an element's pitch inside an aperture of `elements` pitches, from how far along the face it is.
double share_inside(double lateral_m, double elements) {
    return std::clamp(0.5 * elements + 0.5 - std::abs(lateral_m) / pitch, 0.0, 1.0);
}

/// Relative error of an image of pixels against the sum by definition. `share` weighs a column's element by its number.
double pixel_error(const Synthetic& recording, const std::vector<Vec3>& points, const Recipe& recipe,
                   const std::function<double(const Vec3& column_origin, std::size_t element)>& share,
                   bool share_events) {
    const Beamformed formed = beamform(recording.info, recording.reader(), recipe);
    const auto& grid = std::get<LineGrid>(formed.grid);
    const auto& elements = recording.info.probe.elements;
    double difference = 0.0;
    double reference = 0.0;
    for (std::size_t column = 0; column < formed.columns; ++column) {
        std::vector<double> weights;
        double sum = 0.0;
        for (std::size_t i = 0; i < elements.size(); ++i) {
            weights.push_back(share(grid.origin_m[column], i));
            sum += weights.back();
        }
        for (std::size_t d = 0; d < formed.depths; ++d) {
            const Vec3 pixel = grid.origin_m[column] + grid.depth_m[d] * grid.direction[column];
            std::complex<double> exact = 0.0;
            for (std::size_t e = 0; e < recording.info.events.size(); ++e) {
                const TransmitEvent& event = recording.info.events[e];
                const double of_event =
                    share_events ? weights[e] / sum : 1.0 / static_cast<double>(recording.info.events.size());
                for (std::size_t i = 0; i < elements.size(); ++i) {
                    for (const Vec3& point : points) {
                        const double path =
                            event_path_m(recording, event, pixel) + (pixel - elements[i].center_m).norm() -
                            event_path_m(recording, event, point) - (point - elements[i].center_m).norm();
                        exact += of_event * weights[i] / sum * analytic_pulse(path / c);
                    }
                }
            }
            const std::size_t at = column * formed.depths + d;
            difference += std::norm(exact - std::complex<double>(formed.real[at], formed.imaginary[at]));
            reference += std::norm(exact);
        }
    }
    return std::sqrt(difference / reference);
}

void add_points(Synthetic& recording, const std::vector<Vec3>& points) {
    for (const Vec3& point : points) {
        add_echo(recording, point, 1.0,
                 [&](const TransmitEvent& event) { return event_path_m(recording, event, point); });
    }
}

Recipe near_depths(double min_m, double max_m) {
    Recipe recipe;
    recipe.high_pass_Hz = 0.0;
    recipe.min_depth_m = min_m;
    recipe.max_depth_m = max_m;
    recipe.depth_step_m = 0.07e-3;
    return recipe;
}

TEST(Geometry, PixelsAlongTheRadiiOfACurvedArrayEqualTheirDefinition) {
    const Probe probe = curved_probe(24, pitch, radius);
    const std::vector<Vec3> points{{0.4e-3, 0.0, 15e-3}, {-3.1e-3, 0.0, 15.6e-3}, {2.9e-3, 1e-3, 16.1e-3}};
    Recipe recipe = near_depths(14e-3, 17e-3);
    recipe.max_elements = 8;
    recipe.sector_half_angle_rad = 0.13;
    recipe.angle_step_rad = 0.02;
    const auto along = [&](const Vec3& origin, std::size_t element) {
        const double angle = std::atan2(origin.x(), origin.z() + radius);
        return share_inside((static_cast<double>(element) - 11.5) * pitch - radius * angle, 8.0);
    };
    Synthetic matrix = full_matrix_recording(probe, 1200);
    add_points(matrix, points);
    EXPECT_LT(pixel_error(matrix, points, recipe, along, true), 2e-3);
    Synthetic diverging = diverging_recording(probe, {Vec3(-2e-3, 0.0, -9e-3), Vec3(1e-3, 0.0, -7e-3)}, 1200);
    add_points(diverging, points);
    EXPECT_LT(pixel_error(diverging, points, recipe, along, false), 2e-3);
    Synthetic planes = plane_wave_recording(probe, {-0.1, 0.05}, 1200);
    add_points(planes, points);
    EXPECT_LT(pixel_error(planes, points, recipe, along, false), 2e-3);
}

TEST(Geometry, PixelsOfASectorEqualTheirDefinition) {
    Probe probe = flat_probe(24, pitch, 5e6, 0.6);
    probe.kind = "phased";
    const std::vector<Vec3> points{14e-3 * direction(-0.6), 15e-3 * direction(0.1), 14.4e-3 * direction(0.7)};
    Recipe recipe = near_depths(13.5e-3, 15.5e-3);
    recipe.angle_step_rad = 0.05;
    const auto all = [](const Vec3&, std::size_t) { return 1.0; };
    Synthetic planes = plane_wave_recording(probe, {-0.5, 0.0, 0.5}, 1300);
    add_points(planes, points);
    EXPECT_LT(pixel_error(planes, points, recipe, all, false), 2e-3);
    Synthetic matrix = full_matrix_recording(probe, 1300);
    add_points(matrix, points);
    EXPECT_LT(pixel_error(matrix, points, recipe, all, true), 2e-3);
}

TEST(Geometry, DefaultColumnsFollowTheArray) {
    const Synthetic curved = full_matrix_recording(curved_probe(32, pitch, radius), 1000);
    const auto radii = std::get<LineGrid>(beamform(curved.info, curved.reader(), Recipe{}).grid);
    const double half = 16.0 * pitch / radius;
    EXPECT_NEAR(std::atan2(radii.direction[0].x(), radii.direction[0].z()), -half, 1e-12);
    EXPECT_NEAR(radii.origin_m[0].x(), -radius * std::sin(half), 1e-12);
    EXPECT_NEAR((radii.origin_m[1] - radii.origin_m[0]).norm(), 0.077e-3, 1e-8);  // a quarter wavelength

    Synthetic phased = full_matrix_recording(flat_probe(32, 0.5 * pitch, 5e6, 0.6), 1000);
    phased.info.probe.kind = "phased";
    const auto sector = std::get<LineGrid>(beamform(phased.info, phased.reader(), Recipe{}).grid);
    const double step = 0.308e-3 / (4.0 * 32 * 0.5 * pitch);
    const auto angle = [&](std::size_t i) { return std::atan2(sector.direction[i].x(), sector.direction[i].z()); };
    EXPECT_NEAR(angle(1) - angle(0), step, 1e-9);
    EXPECT_NEAR(angle(0), -0.25 * std::numbers::pi, step);
    EXPECT_NEAR(angle(sector.direction.size() / 2), 0.0, 1e-9);
    EXPECT_EQ(sector.direction.size() % 2, 1U);
    EXPECT_EQ(sector.origin_m.back(), Vec3(0.0, 0.0, 0.0));

    // A recipe may ask for either of a flat array.
    Recipe across;
    across.x_step_m = 0.2e-3;
    EXPECT_TRUE(std::holds_alternative<CartesianGrid>(beamform(phased.info, phased.reader(), across).grid));
    Recipe wide;
    wide.sector_half_angle_rad = 0.3;
    const Synthetic flat = full_matrix_recording(flat_probe(16, pitch, 5e6, 0.6), 1000);
    EXPECT_TRUE(std::holds_alternative<LineGrid>(beamform(flat.info, flat.reader(), wide).grid));
}

/// RF of one line by definition, for echoes at `arrival_m(point, channel)` and receive paths and weights given.
double line_error(const Beamformed& formed, std::size_t line, const std::function<double(double depth)>& exact) {
    const auto& depth_m = std::get<LineGrid>(formed.grid).depth_m;
    double difference = 0.0;
    double reference = 0.0;
    for (std::size_t d = 0; d < formed.depths; ++d) {
        const double value = exact(depth_m[d]);
        difference += std::pow(value - static_cast<double>(formed.real[line * formed.depths + d]), 2);
        reference += value * value;
    }
    return std::sqrt(difference / reference);
}

/// Lines along radii, an aperture that grows along the arc, fixed and dynamic focus.
TEST(Geometry, LinesAlongTheRadiiOfACurvedArrayEqualTheirDefinitionAndShareATable) {
    const Probe probe = curved_probe(48, pitch, radius);
    std::vector<Vec3> origins;
    for (int i = -8; i <= 8; i += 2) {
        const double angle = i * pitch / radius;
        origins.push_back(radius * (direction(angle) - Vec3::UnitZ()));
    }
    Synthetic recording = line_recording(probe, origins, Vec3::UnitZ(), 32, 1700);
    for (std::size_t line = 0; line < origins.size(); ++line) {
        TransmitEvent& event = recording.info.events[line];
        const int along = 2 * static_cast<int>(line) - 8;
        event.direction = direction(along * pitch / radius);
        for (int channel = 0; channel < 32; ++channel) {
            event.receivers[static_cast<std::size_t>(channel)] = 8 + along + channel;
        }
    }
    EXPECT_EQ(line_geometries(recording.info).list.size(), 1U);

    const std::vector<Vec3> points{{0.4e-3, 0.0, 12e-3}, {-3.1e-3, 0.0, 17.6e-3}, {2.9e-3, 0.0, 24.1e-3}};
    const auto transmit = [&](const TransmitEvent& event, const Vec3& point) {
        return (point - event.origin_m).dot(event.direction);
    };
    for (const Vec3& point : points) {
        add_echo(recording, point, 1.0, [&](const TransmitEvent& event) { return transmit(event, point); });
    }
    Recipe recipe;
    recipe.high_pass_Hz = 0.0;
    recipe.aperture = ApertureMode::growing;
    recipe.f_number = 3.0;
    for (const bool fixed : {false, true}) {
        recipe.focus = fixed ? FocusMode::fixed : FocusMode::dynamic;
        recipe.focus_depths_m = fixed ? std::vector{18e-3} : std::vector<double>{};
        const Beamformed formed = beamform(recording.info, recording.reader(), recipe);
        for (std::size_t line = 0; line < origins.size(); line += 4) {
            const TransmitEvent& event = recording.info.events[line];
            const double error = line_error(formed, line, [&](double depth) {
                const double elements = std::clamp(depth / 3.0 / pitch, 1.0, 32.0);
                const double focus = fixed ? 18e-3 : depth;
                double value = 0.0;
                double sum = 0.0;
                for (const int receiver : event.receivers) {
                    const double along = (receiver - 23.5 - (2.0 * static_cast<double>(line) - 8.0)) * pitch;
                    const double low = std::max(along - 0.5 * pitch, -0.5 * elements * pitch);
                    const double high = std::min(along + 0.5 * pitch, 0.5 * elements * pitch);
                    const double weight = std::max(0.0, (high - low) / pitch);
                    sum += weight;
                    const Vec3& element = probe.elements[static_cast<std::size_t>(receiver)].center_m;
                    const double receive = (event.origin_m + focus * event.direction - element).norm() + depth - focus;
                    for (const Vec3& point : points) {
                        const double path = depth + receive - transmit(event, point) - (point - element).norm();
                        value += weight * analytic_pulse(path / c).real();
                    }
                }
                return value / sum;
            });
            EXPECT_LT(error, 2e-3) << "line " << line << " fixed " << fixed;
        }
    }
}

/// Two rows a column: all rows of a column count alike, and max_elements counts columns.
TEST(Geometry, RowsOfAColumnAreFocusedByTheirOwnPathsAndCountAsOneElementAcross) {
    Probe probe = flat_probe(24, pitch, 5e6, 0.6);
    probe.kind = "rows";
    probe.rows = 3;
    const std::vector<Element> columns = std::move(probe.elements);
    probe.elements.clear();
    for (const Element& column : columns) {
        for (int row = -1; row <= 1; ++row) {
            probe.elements.push_back(column);
            probe.elements.back().center_m.y() = row * 2e-3;
        }
    }
    Synthetic recording = line_recording(probe, {Vec3(0.0, 0.0, 0.0), Vec3(0.3e-3, 0.0, 0.0)}, Vec3::UnitZ(), 72, 1400);
    for (TransmitEvent& event : recording.info.events) {
        for (int i = 0; i < 72; ++i) {
            event.receivers[static_cast<std::size_t>(i)] = i;
        }
    }
    const Vec3 point(0.2e-3, 0.4e-3, 16e-3);
    add_echo(recording, point, 1.0, [&](const TransmitEvent&) { return point.z(); });
    Recipe recipe;
    recipe.high_pass_Hz = 0.0;
    recipe.max_elements = 10;
    const Beamformed formed = beamform(recording.info, recording.reader(), recipe);
    for (std::size_t line = 0; line < 2; ++line) {
        const double x = recording.info.events[line].origin_m.x();
        const double error = line_error(formed, line, [&](double depth) {
            double value = 0.0;
            double sum = 0.0;
            for (const Element& element : probe.elements) {
                const double weight = share_inside(element.center_m.x() - x, 10.0);
                sum += weight;
                const double path = depth + (Vec3(x, 0.0, depth) - element.center_m).norm() - point.z() -
                                    (point - element.center_m).norm();
                value += weight * analytic_pulse(path / c).real();
            }
            return value / sum;
        });
        EXPECT_LT(error, 2e-3) << line;
    }
    EXPECT_NEAR(receive_aperture_m(Recipe{}, recording.info, 0.02), 24 * pitch, 1e-12);  // all columns
    Recipe too_many;
    too_many.max_elements = 25;
    const std::string message = message_of([&] { beamform(recording.info, recording.reader(), too_many); });
    EXPECT_NE(message.find("this recording has 24"), std::string::npos) << message;
}

/// Rings on a rotating head, an aperture that grows by their area.
TEST(Geometry, RingsAlongTheAxisOfAHeadEqualTheirDefinition) {
    constexpr int rings = 6;
    const Probe probe = ring_probe(rings, 6e-3);
    const HeadMotion head{8e-3, 100.0};
    std::vector<FocusedLine> lines;
    for (const double angle : {-0.3, 0.0, 0.25}) {
        const HeadPose pose = head_pose(head, angle);
        lines.push_back({pose.origin_m, pose.normal, 25e-3, 1.0});
    }
    Synthetic recording = focused_recording(probe, lines, 2200);
    recording.info.head = head;
    const std::vector<double> depths{10e-3, 20e-3, 33e-3};
    const auto ring_radius = [](std::size_t ring) {  // which halves the ring's area
        return 6e-3 * std::sqrt((static_cast<double>(ring) + 0.5) / rings);
    };
    for (std::size_t e = 0; e < 3; ++e) {
        recording.info.events[e].head_angle_rad = std::vector{-0.3, 0.0, 0.25}[e];
        for (std::size_t ring = 0; ring < rings; ++ring) {
            for (std::size_t n = 0; n < 2200; ++n) {
                for (const double depth : depths) {
                    const double arrival = (depth + std::hypot(depth, ring_radius(ring))) / c;
                    recording.samples[e][ring * 2200 + n] +=
                        static_cast<float>(gaussian_pulse(probe, static_cast<double>(n) / 40e6 - arrival));
                }
            }
        }
    }
    EXPECT_EQ(line_geometries(recording.info).list.size(), 1U);
    Recipe recipe;
    recipe.high_pass_Hz = 0.0;
    recipe.aperture = ApertureMode::growing;
    recipe.f_number = 2.0;
    recipe.window.kind = WindowKind::hann;
    for (const bool fixed : {false, true}) {
        recipe.focus = fixed ? FocusMode::fixed : FocusMode::dynamic;
        recipe.focus_depths_m = fixed ? std::vector{20e-3} : std::vector<double>{};
        const Beamformed formed = beamform(recording.info, recording.reader(), recipe);
        const auto& grid = std::get<LineGrid>(formed.grid);
        EXPECT_EQ(grid.origin_m[2], lines[2].origin_m);
        EXPECT_EQ(grid.direction[0], lines[0].direction);
        for (std::size_t line = 0; line < 3; ++line) {
            const double error = line_error(formed, line, [&](double depth) {
                const double disc = std::clamp(depth / 4.0, 6e-3 * std::sqrt(1.0 / rings), 6e-3);
                const double focus = fixed ? 20e-3 : depth;
                double value = 0.0;
                double sum = 0.0;
                for (std::size_t ring = 0; ring < rings; ++ring) {
                    const double inner_area = static_cast<double>(ring) / rings;  // of the whole face
                    const double inside = std::clamp(disc * disc / 36e-6 - inner_area, 0.0, 1.0 / rings);
                    if (inside <= 0.0) {
                        continue;
                    }
                    const double middle = 6e-3 * std::sqrt(inner_area + 0.5 * inside);
                    const double weight = inside * rings * (0.5 + 0.5 * std::cos(std::numbers::pi * middle / disc));
                    sum += weight;
                    const double receive = std::hypot(focus, ring_radius(ring)) + depth - focus;
                    for (const double at : depths) {
                        const double path = depth + receive - at - std::hypot(at, ring_radius(ring));
                        value += weight * analytic_pulse(path / c).real();
                    }
                }
                return value / sum;
            });
            EXPECT_LT(error, 2e-3) << "line " << line << " fixed " << fixed;
        }
    }
    EXPECT_NEAR(receive_aperture_m(recipe, recording.info, 1e-3), 2.0 * 6e-3 * std::sqrt(1.0 / rings), 1e-12);
    EXPECT_NEAR(receive_aperture_m(recipe, recording.info, 16e-3), 8e-3, 1e-12);
    EXPECT_NEAR(receive_aperture_m(recipe, recording.info, 50e-3), 12e-3, 1e-12);
    recipe.max_elements = 3;
    EXPECT_NEAR(receive_aperture_m(recipe, recording.info, 50e-3), 12e-3 * std::sqrt(0.5), 1e-12);
}

TEST(Geometry, TheSameBitsOnAnyNumberOfThreads) {
    Synthetic recording =
        diverging_recording(curved_probe(24, pitch, radius), {Vec3(0, 0, -8e-3), Vec3(1e-3, 0, -8e-3)}, 900);
    for (std::size_t e = 0; e < recording.samples.size(); ++e) {
        for (std::size_t i = 0; i < recording.samples[e].size(); ++i) {
            recording.samples[e][i] = static_cast<float>(noise(100000 * e + i));
        }
    }
    Recipe recipe;
    recipe.aperture = ApertureMode::growing;
    recipe.f_number = 1.0;
    expect_same_on_any_threads(recording, recipe);
}

TEST(Geometry, WhatDoesNotFitIsRefusedWithWhatToWriteInstead) {
    const auto error_of = [](const Synthetic& of, const std::string& text) {
        const Recipe recipe = read_recipe(Settings::from_text(text, "r.toml"));
        return message_of([&] { beamform(of.info, of.reader(), recipe); });
    };
    const auto expect = [&](const Synthetic& of, const std::string& text, const std::string& part) {
        const std::string message = error_of(of, text);
        EXPECT_NE(message.find(part), std::string::npos) << message;
    };
    const Synthetic curved = full_matrix_recording(curved_probe(16, pitch, radius), 800);
    const Synthetic flat = full_matrix_recording(flat_probe(16, pitch, 5e6, 0.6), 800);
    const Synthetic lines = line_recording(flat_probe(16, pitch, 5e6, 0.6), {Vec3::Zero()}, Vec3::UnitZ(), 16, 800);
    expect(curved, "[grid]\nx_mm = [-5, 5]", "r.toml:2: grid.x_mm: is for flat arrays");
    expect(curved, "[grid]\nx_step_mm = 0.1", "give sector_half_angle_deg and angle_step_deg");
    expect(curved, "[grid]\nangle_step_deg = 1e-7", "r.toml:2: grid.angle_step_deg: asks for an image of");
    expect(flat, "[grid]\nangle_step_deg = 0.5", "r.toml:2: grid.angle_step_deg: is of a sector");
    expect(lines, "[grid]\nsector_half_angle_deg = 40",
           "r.toml:2: grid.sector_half_angle_deg: is for images of pixels");
    expect(lines, "[grid]\nangle_step_deg = 1", "remove the key");
    Synthetic rings = full_matrix_recording(ring_probe(4, 5e-3), 800);
    expect(rings, "", "whose images are made of focused lines along its axis");
    Synthetic aside = focused_recording(ring_probe(4, 5e-3), {{Vec3(1e-3, 0, 0), Vec3::UnitZ(), 20e-3, 1.0}}, 800);
    expect(aside, "", "event 1 of the recording does not go along the axis of its rings");
    Synthetic nowhere = diverging_recording(flat_probe(16, pitch, 5e6, 0.6), {Vec3(0, 0, -5e-3)}, 800);
    nowhere.info.events[0].focus_m = Vec3::Constant(std::numeric_limits<double>::quiet_NaN());
    expect(nowhere, "", "event 1 of the recording is a diverging wave without a source");
}

}  // namespace
}  // namespace echoloom
