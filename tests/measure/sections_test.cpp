// Distances, penetration, slices and grating lobes in images of known result; bright points without a truth.

#include "recon/measure/sections.h"

#include <gtest/gtest.h>

#include <cmath>
#include <nlohmann/json.hpp>
#include <numbers>
#include <sstream>

#include "recon/measure/aim.h"
#include "recon/measure/distances.h"
#include "recon/measure/grating.h"
#include "recon/measure/penetration.h"
#include "recon/measure/section_output.h"
#include "recon/measure/sheet_slice.h"
#include "recon/measure/slice_width.h"
#include "tests/measure/speckle_field.h"

namespace echoloom {
namespace {

PointMeasurement measured_at(const Vec3& truth, const Vec3& peak) {
    PointMeasurement point;
    point.found = true;
    point.true_m = truth;
    point.peak_m = peak;
    return point;
}

// Limits of 1.5 mm or 1.5 % along the beam, 2 mm or 2 % across: M. M. Goodsitt et al., AAPM Ultrasound Task Group No.
// 1, Med. Phys. 25, 1385-1406, 1998 (numbers from memory).
TEST(Distances, OfAGridDrawnTwoPercentTooDeep) {
    std::vector<PointMeasurement> points;
    for (int row = 1; row <= 8; ++row) {
        for (int column = 0; column < 2; ++column) {
            const Vec3 place(column * 20e-3, 0.0, row * 10e-3);
            points.push_back(measured_at(place, {place.x(), 0.0, 1.02 * place.z()}));
        }
    }
    points.push_back(measured_at({0.0, 0.0, 10.5e-3}, {0.0, 0.0, 11e-3}));  // half a millimetre off its neighbour
    const auto axial = check_distances(points, true);
    ASSERT_TRUE(axial);
    EXPECT_NEAR(axial->longest_true_m, 70e-3, 1e-12);
    EXPECT_NEAR(axial->longest_measured_m, 71.4e-3, 1e-12);
    EXPECT_EQ(axial->beyond_limit, 0U) << "1.4 mm off: within 1.5 mm";
    const auto lateral = check_distances(points, false);
    ASSERT_TRUE(lateral);
    EXPECT_EQ(lateral->pairs, 8U);
    EXPECT_NEAR(lateral->rms_error_m, 0.0, 1e-12);
    EXPECT_DOUBLE_EQ(distance_limit_m(0.2, true), 3e-3);
    EXPECT_DOUBLE_EQ(distance_limit_m(0.2, false), 4e-3);
    EXPECT_FALSE(check_distances({points.data(), 1}, true));
}

TEST(Penetration, EndsWhereSpeckleAndNoiseAreAsStrong) {
    // Speckle falls by 1 dB a millimetre from 30 dB above the noise: equal powers at 30 mm.
    std::vector<double> depths, speckle, noise;
    for (int n = 0; n <= 600; ++n) {
        const double depth = n * 0.1e-3;
        depths.push_back(depth);
        noise.push_back(2.0);
        speckle.push_back(2.0 * std::sqrt(1.0 + std::pow(10.0, 0.1 * (30.0 - 1e3 * depth))));
    }
    EXPECT_NEAR(penetration_of(depths, speckle, noise).depth_m.value(), 30e-3, 1e-6);
    noise.assign(noise.size(), 1e-6);
    EXPECT_FALSE(penetration_of(depths, speckle, noise).depth_m);
    noise.assign(noise.size(), 1e3);
    const Penetration drowned = penetration_of(depths, speckle, noise);
    EXPECT_FALSE(drowned.depth_m);
    EXPECT_FALSE(drowned.reason.empty());
}

/// Below 50 mm nothing scatters; noise of one level everywhere, as an aperture that does not grow gives.
TEST(Penetration, OfAnImageWithNoise) {
    const double step = 0.1e-3;
    Image image = synthetic::speckle_image(200, 700, step, {2.0, 2.0}, 6, [](double, double z) {
        return (z < 50e-3 ? std::pow(10.0, 0.1 * (30.0 - 1e3 * (z - 10e-3))) : 0.0) + 1.0;
    });
    image.recording.probe = synthetic::line_probe(64, 0.3e-3, 0.27e-3, 5e6, 0.6);
    image.recording.channels = 64;
    image.recording.events = {
        synthetic::focused_event(image.recording.probe, Vec3::Zero(), Vec3::UnitZ(), 40e-3, 1540.0)};
    image.recording.truth.regions = {{"slab", RegionShape::box, {0.0, 0.0, 30e-3}, {10e-3, 2e-3, 20e-3}}};
    const auto measured = measure_penetration(image);
    ASSERT_TRUE(measured);
    ASSERT_TRUE(measured->depth_m) << measured->reason;
    // At 40 mm; the mean over 1.4 mm of depth, some 130 cells, scatters by 0.4 dB, which is 0.8 mm for the sum of both.
    EXPECT_NEAR(*measured->depth_m, 40e-3, 2e-3);
}

TEST(Sheet, ThicknessOfAGaussianSliceAt45Degrees) {
    // A slice of 2 mm: the sheet's echo is 2 mm long at half amplitude, of which the pulse's own 0.2265 mm (0.4413
    // lambda / B) is taken out in quadrature. 160 speckle cells side by side: 4 %.
    const double thickness = 2e-3, step = 0.05e-3;
    const auto bell = [&](double, double z) { return std::pow(synthetic::gaussian(z - 20e-3, thickness), 2); };
    Image image = synthetic::speckle_image(700, 400, step, {2.0, 2.0}, 8, bell);
    image.recording.probe = synthetic::line_probe(64, 0.3e-3, 0.27e-3, 5e6, 0.6);
    image.recording.channels = 64;
    image.recording.events = {
        synthetic::focused_event(image.recording.probe, Vec3::Zero(), Vec3::UnitZ(), 20e-3, 1540.0)};
    TrueSheet sheet{"sheet", {0.0, 0.0, 20e-3}, 17e-3, 10e-3, std::numbers::pi / 4.0};
    const SheetSlice slice = measure_sheet(image, sheet);
    ASSERT_TRUE(slice.thickness_m) << slice.reason;
    EXPECT_NEAR(*slice.thickness_m, std::sqrt(4e-6 - 0.2265e-3 * 0.2265e-3), 0.06 * thickness);
    EXPECT_GT(slice.spread_m, 0.0);
    sheet.tilt_rad = 0.05;
    EXPECT_FALSE(measure_sheet(image, sheet).thickness_m) << "too flat";
    sheet.tilt_rad = std::numbers::pi / 4.0;
    sheet.half_length_m = 1.5e-3;
    EXPECT_FALSE(measure_sheet(image, sheet).thickness_m) << "too short";
}

TEST(Sheet, OfAThinSliceScattersAsItSaysAndIsNotTooThick) {
    // Two pulses long: what is cut off of the bell depends on the pulse as well.
    const double thickness = 0.45e-3, step = 0.2265e-3 / 8.0;
    const auto bell = [&](double, double z) { return std::pow(synthetic::gaussian(z - 12e-3, thickness), 2); };
    constexpr int images = 40;
    double sum = 0.0, squares = 0.0, spread = 0.0;
    for (std::uint64_t n = 0; n < images; ++n) {
        Image image = synthetic::speckle_image(150, 144, step, {6.0, 3.4}, 50 + n, bell);
        image.recording.probe = synthetic::line_probe(32, 0.3e-3, 0.27e-3, 5e6, 0.6);
        image.recording.channels = 32;
        image.recording.events = {
            synthetic::focused_event(image.recording.probe, Vec3::Zero(), Vec3::UnitZ(), 12e-3, 1540.0)};
        const SheetSlice slice = measure_sheet(image, {"sheet", {0.0, 0.0, 12e-3}, 4.8e-3, 2e-3, std::numbers::pi / 4});
        ASSERT_TRUE(slice.thickness_m) << slice.reason;
        sum += *slice.thickness_m / images;
        squares += *slice.thickness_m * *slice.thickness_m / images;
        spread += slice.spread_m / images;
    }
    EXPECT_NEAR(sum, std::sqrt(thickness * thickness - 0.2265e-3 * 0.2265e-3), 0.035 * thickness);
    EXPECT_NEAR(spread / std::sqrt(squares - sum * sum), 1.0, 0.4);
}

TEST(GratingLobe, OfACurvedArrayAreAlikeOnBothSidesOfEveryLine) {
    // A face of 60 mm radius, pitch two wavelengths and elements of half that; the point lies straight below a line
    // that leans by 20 degrees.
    Image image;
    LineGrid grid;
    RecordingInfo& info = image.recording;
    info.probe = synthetic::line_probe(160, 0.616e-3, 0.308e-3, 5e6, 0.6);
    info.probe.radius_m = 60e-3;
    info.channels = 160;
    for (Element& element : info.probe.elements) {
        const double angle = element.center_m.x() / info.probe.radius_m;
        element.normal = Vec3(std::sin(angle), 0.0, std::cos(angle));
        element.center_m = info.probe.radius_m * (element.normal - Vec3::UnitZ());
    }
    for (int n = 0; n <= 160; ++n) {
        const double angle = (0.5 * n - 40.0) * std::numbers::pi / 180.0;
        grid.direction.emplace_back(std::sin(angle), 0.0, std::cos(angle));
        grid.origin_m.push_back(60e-3 * grid.direction.back() - Vec3(0.0, 0.0, 60e-3));
        info.events.push_back(
            synthetic::focused_event(info.probe, grid.origin_m.back(), grid.direction.back(), 40e-3, 1540.0, n));
    }
    for (int n = 0; n < 600; ++n) grid.depth_m.push_back(10e-3 + n * 0.1e-3);
    image.grid = grid;
    image.columns = grid.origin_m.size();
    image.depths = grid.depth_m.size();
    image.envelope.assign(image.columns * image.depths, 0.0F);
    image.sound_speed_m_s = info.medium.sound_speed_m_s;
    const auto lobes = grating_lobes(image, grid.origin_m[120] + 40e-3 * grid.direction[120], 1.0);
    ASSERT_EQ(lobes.size(), 2U);
    EXPECT_NEAR(lobes[0].predicted_dB, lobes[1].predicted_dB, 0.05);
    // Seen under a sine of one half by elements a wavelength wide: sinc(1 / 2) there and back. Level of the array's own
    // factor: as in the next test.
    const double u = 0.5 * std::numbers::pi;
    EXPECT_NEAR(lobes[0].predicted_dB, 20.0 * std::log10(0.93944 / (0.6 * 160)) + 40.0 * std::log10(std::sin(u) / u),
                0.3);
}

TEST(GratingLobe, LevelOfEqualWeightsAgainstTheClosedForm) {
    // sqrt(2 pi) sigma_t f0 / N = 0.93944 / (B N): derived, after the rule "cycles / N" of O. T. von Ramm & S. W.
    // Smith, IEEE Trans. BME 30, 438-452, 1983 (from memory); direct sums give -26.201 and -32.221 dB one-way
    // (recomputed by tests/published/recompute_arrays.py). Two-way the integral of the squared factor is that of the
    // factor, but for its tails: a tenth of a decibel.
    for (const int count : {32, 64}) {
        const std::vector<double> equal(static_cast<std::size_t>(count), 1.0);
        const double level = 20.0 * std::log10(grating_level(equal, equal, 0.6, 1));
        EXPECT_NEAR(level, 20.0 * std::log10(0.93944 / (0.6 * count)), 0.1) << count;
        EXPECT_NEAR(20.0 * std::log10(grating_level(equal, {1.0}, 0.6, 1)), count == 32 ? -26.201 : -32.221, 0.02);
        EXPECT_NEAR(grating_level(equal, equal, 0.2, 2) / grating_level(equal, equal, 0.2, 1), 0.5, 0.02)
            << "twice the order, half the time in phase";
    }
}

TEST(GratingLobe, LiesWhereTheFormulaPutsIt) {
    // A sector from one point, pitch of a wavelength: a point at 45 degrees comes again at asin(sin 45 - 1) = -17.0312
    // degrees, at its own distance: sin(g) = sin(s) + n lambda / p, W. L. Stutzman & G. A. Thiele, Antenna Theory and
    // Design, 2013, p. 307.
    Image image;
    LineGrid grid;
    RecordingInfo& info = image.recording;
    info.probe = synthetic::line_probe(32, 0.308e-3, 0.3e-3, 5e6, 0.6);
    info.channels = 32;
    for (int degrees = -60; degrees <= 60; degrees += 1) {
        const double angle = degrees * std::numbers::pi / 180.0;
        grid.origin_m.emplace_back(0.0, 0.0, 0.0);
        grid.direction.emplace_back(std::sin(angle), 0.0, std::cos(angle));
        info.events.push_back(
            synthetic::focused_event(info.probe, Vec3::Zero(), grid.direction.back(), 40e-3, 1540.0, degrees + 60));
    }
    for (int n = 0; n < 600; ++n) grid.depth_m.push_back(10e-3 + n * 0.1e-3);
    image.grid = grid;
    image.columns = grid.origin_m.size();
    image.depths = grid.depth_m.size();
    image.envelope.assign(image.columns * image.depths, 0.0F);
    image.sound_speed_m_s = info.medium.sound_speed_m_s;
    image.envelope[43 * image.depths + 302] = 0.05F;  // at -17 degrees, 40.2 mm
    const Vec3 point(40e-3 * std::sqrt(0.5), 0.0, 40e-3 * std::sqrt(0.5));
    const auto lobes = grating_lobes(image, point, 1.0);
    ASSERT_EQ(lobes.size(), 1U);
    EXPECT_NEAR(std::atan2(lobes[0].place_m.x(), lobes[0].place_m.z()) * 180.0 / std::numbers::pi, -17.0312, 0.01);
    EXPECT_NEAR(lobes[0].place_m.norm(), 40e-3, 1e-5);
    EXPECT_NEAR(lobes[0].measured_dB, 20.0 * std::log10(0.05), 1e-6);
    EXPECT_NEAR(lobes[0].predicted_dB, 20.0 * std::log10(0.93944 / (0.6 * 32)), 0.1);
    EXPECT_FALSE(lobes[0].another_point);
}

/// Three points in weak speckle, one of them with side lobes, in an image whose recording contains no truth.
Image three_points() {
    const CounterRandom random(3, 1);
    std::uint64_t n = 0;
    Image image = synthetic::cartesian_image(0.15e-3, 201, 0.04e-3, 10e-3, 1001, [&](double x, double z) {
        const auto point = [&](double at_x, double at_z) {
            return synthetic::sinc_squared(x - at_x, 0.7e-3) * synthetic::gaussian(z - at_z, 0.23e-3);
        };
        return point(0.0, 20e-3) + 0.5 * point(5e-3, 30e-3) + 0.2 * point(-5e-3, 40e-3) +
               0.005 * std::sqrt(-std::log(1.0 - random.uniform(n++)));
    });
    image.recording.probe = synthetic::line_probe(64, 0.3e-3, 0.27e-3, 5e6, 0.6);
    image.recording.channels = 64;
    image.recording.events = {
        synthetic::focused_event(image.recording.probe, Vec3::Zero(), Vec3::UnitZ(), 30e-3, 1540.0)};
    return image;
}

TEST(Aim, DetectsBrightPointsWhereNoTruthIsKnownAndSaysSo) {
    Image image = three_points();
    const AimedAt aimed = take_aim(image, {});
    EXPECT_EQ(aimed.points, PointSource::detected);
    EXPECT_NE(aimed.description.find("detected"), std::string::npos);
    ASSERT_EQ(image.recording.truth.points.size(), 3U);
    const auto near = [&](std::size_t n, double x, double z) {
        EXPECT_NEAR(image.recording.truth.points[n].position_m.x(), x, 0.03e-3);
        EXPECT_NEAR(image.recording.truth.points[n].position_m.z(), z, 0.01e-3);
    };
    near(0, 0.0, 20e-3);
    near(1, 5e-3, 30e-3);
    near(2, -5e-3, 40e-3);
    const ImageReport report = report_image(image, aimed);
    for (const PointReport& point : report.points) {
        EXPECT_TRUE(point.measured.found);
        EXPECT_NEAR(point.measured.lateral_6dB.width_m.value(), 0.7e-3, 0.01e-3);
    }
    // No position error is given, nor a distance compared with another from the same image.
    const auto json = nlohmann::json::parse(json_report(std::vector{report}));
    EXPECT_TRUE(json.at("images")[0].at("points")[0].at("axial_error_mm").is_null());
    EXPECT_TRUE(distance_section(image, report.points).rows.empty());
    EXPECT_NE(text_report(std::vector{report}).find(aimed.description), std::string::npos);
}

TEST(Aim, GivenPlacesBoxesAndDiscs) {
    Image image = three_points();
    Aim aim;
    aim.points = {{5.1e-3, 0.0, 30.05e-3}};
    const AimedAt aimed = take_aim(image, aim);
    EXPECT_EQ(aimed.points, PointSource::given);
    const ImageReport report = report_image(image, aimed);
    ASSERT_EQ(report.points.size(), 1U);
    EXPECT_NEAR(report.points[0].measured.lateral_error_m, -0.1e-3, 0.02e-3) << "against what was given";

    Image boxed = three_points();
    Aim box;
    box.box = PlaneBox{-10e-3, 10e-3, 25e-3, 35e-3};
    take_aim(boxed, box);
    ASSERT_EQ(boxed.recording.truth.points.size(), 1U);
    EXPECT_NEAR(boxed.recording.truth.points[0].position_m.z(), 30e-3, 0.02e-3);

    Image lost = three_points();
    Aim outside;
    outside.points = {{0.0, 0.0, 200e-3}};
    EXPECT_THROW(take_aim(lost, outside), InputError);
    lost.envelope.assign(lost.envelope.size(), 0.0F);
    EXPECT_THROW(take_aim(lost, {}), InputError) << "nothing to measure";

    Image speckle = synthetic::speckle_image(300, 300, 0.1e-3, {2.0, 2.0}, 11, [](double x, double z) {
        return std::hypot(x, z - 25e-3) < 4e-3 ? 0.1 : 1.0;
    });
    speckle.recording = three_points().recording;
    Aim disc;
    disc.discs = {{0.0, 25e-3, 8e-3}};
    const AimedAt at_disc = take_aim(speckle, disc);
    EXPECT_TRUE(at_disc.regions_given);
    const Section regions = region_section(speckle);
    ASSERT_EQ(regions.rows.size(), 1U);
    EXPECT_NEAR(regions.rows[0].quantities[0].value.value(), -10.0, 0.9);
    EXPECT_FALSE(regions.rows[0].quantities[0].references[0]) << "what is given has no known contrast";
}

TEST(Aim, NeverTakesSpeckleForPoints) {
    for (std::uint64_t seed = 0; seed < 3; ++seed) {
        Image image =
            synthetic::speckle_image(400, 400, 0.1e-3, {2.0, 2.0}, 40 + seed, [](double, double) { return 1.0; });
        image.recording = three_points().recording;
        EXPECT_TRUE(find_bright_points(image).empty());
    }
}

Section small_section() {
    Section section{"kinds", "Kinds", "What they are.", {}, {}};
    section.kinds = {{"level_dB", "level, dB", 1, {"predicted"}, Comparison::difference, "a level"},
                     {"size_mm", "size, mm", 2, {"predicted", "theory"}, Comparison::ratio, "a size"}};
    section.rows = {
        {"first", 1.0, 20.0, {{-20.0, std::pair(-21.0, -19.0), {-19.0}, ""}, {1.0, {}, {2.0, 4.0}, ""}}, ""},
        {"", -1.0, 30.0, {{std::nullopt, {}, {-INFINITY}, "none here"}, {0.5, {}, {}, ""}}, "a row's note"}};
    return section;
}

TEST(SectionOutput, TextCsvAndJson) {
    const std::string text = section_text(small_section());
    EXPECT_EQ(text, R"table(
  Kinds
                         level, dB                               size, mm
          depth      x   measured    +-  predicted  difference   measured   predicted  theory  ratio
  first   20.00   1.00      -20.0   1.0      -19.0        -1.0       1.00        2.00    4.00  0.500
  a       30.00  -1.00          -b    -       none           -       0.50           -       -      -
    a  a row's note
    b  none here
)table") << text;
    ImageReport report;
    report.file = "a.h5";
    report.sections = {small_section()};
    std::istringstream csv(quantities_csv(std::vector{report}));
    std::string line;
    int lines = 0;
    while (std::getline(csv, line)) {
        if (line[0] == '#') continue;
        ++lines;
        EXPECT_EQ(std::ranges::count(line, ','), 14) << line;
        if (lines == 2) {
            EXPECT_EQ(line, R"("a.h5","",kinds,"first",1,20,level_dB,-20,-21,-19,predicted,-19,,-1,"")");
        }
    }
    EXPECT_EQ(lines, 1 + 1 + 2 + 1 + 2) << "two references of a size, a line each";
    const auto json = nlohmann::json::parse(json_report(std::vector{report}));
    EXPECT_EQ(json.at("format_version"), 1);
    const auto& kinds = json.at("images")[0].at("kinds");
    EXPECT_EQ(kinds.at("definitions").at("level_dB"), "a level");
    EXPECT_NEAR(kinds.at("rows")[0].at("size_mm_ratio").get<double>(), 0.5, 1e-12);
    EXPECT_EQ(kinds.at("rows")[0].at("level_dB_95_percent")[1], -19.0);
    EXPECT_TRUE(kinds.at("rows")[1].at("level_dB").is_null());
    EXPECT_TRUE(kinds.at("rows")[1].at("level_dB_predicted").is_null()) << "JSON has no infinity";
    EXPECT_EQ(kinds.at("rows")[1].at("notes")[1], "a row's note");
}

}  // namespace
}  // namespace echoloom
