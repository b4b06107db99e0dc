#include "recon/measure/elevation.h"

#include <gtest/gtest.h>

#include "recon/measure/slice_width.h"
#include "tests/measure/synthetic.h"

namespace echoloom {
namespace {

constexpr double speed = 1540.0;

Probe lens_probe() {
    Probe probe = synthetic::line_probe(2, 0.3e-3, 0.27e-3, 5e6, 0.6);
    for (Element& element : probe.elements) element.height_m = 6e-3;
    probe.elevation_focus_m = 45e-3;
    return probe;
}

TEST(Elevation, WidthInTheLensFocus) {
    // At the lens focus the half-amplitude width in elevation is 1.2067 lambda F/H one-way: sinc of a line aperture (G.
    // S. Kino, Acoustic Waves, 1987; T. L. Szabo, Diagnostic Ultrasound Imaging, ch. 7; both from memory; recomputed by
    // tests/published/recompute_arrays.py). 3 %, for the law is paraxial.
    const Probe probe = lens_probe();
    const double axis = std::abs(point_elevation(probe, speed, 5e6, 45e-3));
    EXPECT_NEAR(axis, 1.0, 0.01);
    double y = 0.0;
    while (std::abs(point_elevation(probe, speed, 5e6, 45e-3, y)) > 0.5 * axis) y += 1e-6;
    EXPECT_NEAR(2.0 * y, 1.2067 * speed / 5e6 * 45e-3 / 6e-3, 0.03 * 2.0 * y);
}

TEST(Elevation, AWireIsTheSumOfItsPoints) {
    const Probe probe = lens_probe();
    for (const double distance : {15e-3, 45e-3, 120e-3}) {
        for (const double frequency : {2e6, 5e6, 7e6}) {
            for (const double length : {10e-3, 20e-3}) {
                Complex sum = 0.0;
                constexpr int parts = 1000;
                for (int n = 0; n < parts; ++n) {
                    const double y = length * ((n + 0.5) / parts - 0.5);
                    sum += length / parts * std::pow(point_elevation(probe, speed, frequency, distance, y), 2);
                }
                const Complex wire = wire_elevation(probe, speed, frequency, distance, length);
                EXPECT_LT(std::abs(wire - sum) / std::abs(sum), 0.02)
                    << distance << " m, " << frequency << " Hz, wire of " << length << " m";
            }
        }
    }
}

TEST(Elevation, TheTableFollowsItsFunctions) {
    const Probe probe = lens_probe();
    Medium medium;
    medium.attenuation_dB_cm_MHz = 0.5;
    const Frequencies frequencies{1e6, 1e6, 8};
    const ElevationTable point(probe, medium, {}, {}, frequencies, 20e-3, 30e-3);
    const ElevationTable wire(probe, medium, {.wire_length_m = 20e-3}, {}, frequencies, 20e-3, 30e-3);
    for (const double distance : {20e-3, 23.456e-3, 30e-3}) {
        for (std::size_t n = 0; n < frequencies.count; ++n) {
            const double f = frequencies.at(n);
            const double loss = std::exp(-medium.attenuation_Np_m(f) * distance);
            EXPECT_LT(std::abs(point.at(distance).at(n) - loss * point_elevation(probe, speed, f, distance)),
                      2e-3 * loss);
            const Complex both = loss * loss * wire_elevation(probe, speed, f, distance, 20e-3);
            EXPECT_LT(std::abs(std::pow(wire.at(distance).at(n), 2) - both), 5e-3 * std::abs(both));
        }
    }
}

TEST(Elevation, SliceOfALensedArrayAgainstDepth) {
    // H = 5 mm, lens at 20 mm, 5 MHz, two-way half-amplitude width of the outermost crossings: in no book that we know;
    // recomputed as the field of a line by tests/published/recompute_arrays.py. 3 % at the focus, 10 % elsewhere. One
    // column of elements: the cut is two-dimensional there too.
    RecordingInfo info;
    info.probe = synthetic::line_probe(2, 0.3e-3, 0.1e-3, 5e6, 0.6);
    info.probe.elevation_focus_m = 20e-3;
    info.channels = 2;
    info.events = {synthetic::focused_event(info.probe, Vec3::Zero(), Vec3::UnitZ(), 20e-3, speed)};
    const PredictionTerms wave{.broadband = false, .attenuation = false};
    struct Row {
        double depth_mm, width_mm, tolerance;
    };
    for (const Row& row : {Row{5.0, 3.002, 0.1}, Row{15.0, 0.846, 0.1}, Row{20.0, 1.097, 0.03}, Row{30.0, 1.680, 0.1},
                           Row{60.0, 3.726, 0.1}}) {
        const auto width = elevation_width_m(info, Recipe{}, {0.0, 0.0, row.depth_mm * 1e-3}, 0.5, wave);
        ASSERT_TRUE(width.width_m) << row.depth_mm << " mm: " << width.reason;
        EXPECT_NEAR(*width.width_m * 1e3 / row.width_mm, 1.0, row.tolerance) << row.depth_mm << " mm";
    }
}

/// Columns cut into rows that fill their height, focused at a depth by the delays of each element.
RecordingInfo rows_recording(int rows, double height, double focus, int columns = 2) {
    RecordingInfo info;
    info.probe = synthetic::line_probe(columns, 0.3e-3, 0.1e-3, 5e6, 0.6);
    info.probe.kind = "rows";
    info.probe.rows = rows;
    std::vector<Element> elements;
    for (const Element& column : info.probe.elements) {
        for (int row = 0; row < rows; ++row) {
            elements.push_back(column);
            elements.back().center_m.y() = (row - 0.5 * (rows - 1)) * height;
            elements.back().height_m = height;
        }
    }
    info.probe.elements = elements;
    info.channels = elements.size();
    info.events = {synthetic::focused_event(info.probe, Vec3::Zero(), Vec3::UnitZ(), focus, speed)};
    return info;
}

TEST(Elevation, RowsAreFocusedByTheirDelays) {
    // 0.9005 lambda F# two-way in the focus at F# 2.08 (sum over elements with exact distances, recomputed by
    // tests/published/recompute_arrays.py), here along elevation.
    const RecordingInfo info = rows_recording(40, 0.25e-3, 20e-3);
    const PredictionTerms wave{.broadband = false, .attenuation = false};
    const double unit = speed / 5e6 * 20e-3 / 10e-3;
    const auto width = elevation_width_m(info, Recipe{}, {0.0, 0.0, 20e-3}, 0.5, wave);
    ASSERT_TRUE(width.width_m);
    EXPECT_NEAR(*width.width_m / unit, 0.9005, 0.02);
    // Without delays of their own the same rows make a slice as thick as they are high.
    const RecordingInfo tall = rows_recording(1, 10e-3, 20e-3);
    EXPECT_GT(*elevation_width_m(tall, Recipe{}, {0.0, 0.0, 20e-3}, 0.5, wave).width_m, 5.0 * *width.width_m);
}

TEST(Elevation, RowsAreColumnsTurnedByARightAngle) {
    // The same face turned: 20 strips of 0.5 mm, side by side or one above the other.
    RecordingInfo columns;
    columns.probe = synthetic::line_probe(20, 0.5e-3, 0.5e-3, 5e6, 0.6);
    for (Element& element : columns.probe.elements) element.height_m = 0.1e-3;
    columns.channels = 20;
    columns.events = {synthetic::focused_event(columns.probe, Vec3::Zero(), Vec3::UnitZ(), 30e-3, speed)};
    const RecordingInfo rows = rows_recording(20, 0.5e-3, 30e-3);
    for (const double depth : {20e-3, 30e-3, 50e-3}) {
        const auto lateral = predict_point(columns, Recipe{}, {0.0, 0.0, depth});
        const auto elevation = elevation_width_m(rows, Recipe{}, {0.0, 0.0, depth}, 0.5);
        ASSERT_TRUE(lateral.lateral_6dB.width_m && elevation.width_m) << depth;
        EXPECT_NEAR(*elevation.width_m / *lateral.lateral_6dB.width_m, 1.0, 0.02) << depth;
    }
}

TEST(Elevation, RowsInPhaseAreOneTallElement) {
    // Four rows focused at 100 mm and one element as tall behind a lens of that focus.
    const RecordingInfo rows = rows_recording(4, 1.5e-3, 100e-3, 16);
    RecordingInfo tall = rows_recording(1, 6e-3, 100e-3, 16);
    tall.probe.elevation_focus_m = 100e-3;
    const Vec3 point(0.0, 0.0, 100e-3);
    const auto by_rows = elevation_width_m(rows, Recipe{}, point, 0.5);
    const auto by_lens = elevation_width_m(tall, Recipe{}, point, 0.5);
    ASSERT_TRUE(by_rows.width_m && by_lens.width_m);
    EXPECT_NEAR(*by_rows.width_m / *by_lens.width_m, 1.0, 0.01);
    // A wire couples rows that a point keeps apart; it must come out as the tall element sees it.
    const PredictionTerms wire{.wire_length_m = 20e-3};
    const auto wire_by_rows = predict_point(rows, Recipe{}, point, wire);
    const auto wire_by_lens = predict_point(tall, Recipe{}, point, wire);
    ASSERT_TRUE(wire_by_rows.lateral_6dB.width_m && wire_by_lens.lateral_6dB.width_m);
    EXPECT_NEAR(*wire_by_rows.lateral_6dB.width_m / *wire_by_lens.lateral_6dB.width_m, 1.0, 0.01);
    EXPECT_NEAR(*wire_by_rows.axial_6dB.width_m / *wire_by_lens.axial_6dB.width_m, 1.0, 0.01);
}

}  // namespace
}  // namespace echoloom
