#include "recon/measure/report.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>

#include "recon/measure/point_view.h"
#include "recon/measure/prediction.h"
#include "recon/measure/provenance.h"
#include "recon/measure/slice_width.h"
#include "recon/measure/theory.h"
#include "recon/measure/theory_notes.h"
#include "sim/base/parallel.h"

namespace echoloom {
namespace {

/// Neighbours farther off than the nearest 64 cannot matter: a search box is a few resolution cells.
constexpr std::size_t max_neighbours = 64;
/// The axial width is searched to this many theoretical widths from the point.
constexpr double axial_reach = 6.0;
/// Depths of the predicted curve.
constexpr int curve_steps = 54;

std::vector<Vec3> nearest_neighbours(const std::vector<TruePoint>& points, std::size_t self) {
    std::vector<Vec3> others;
    for (std::size_t n = 0; n < points.size(); ++n) {
        if (n != self) others.push_back(points[n].position_m);
    }
    const Vec3 here = points[self].position_m;
    const auto nearer = [&](const Vec3& a, const Vec3& b) { return (a - here).norm() < (b - here).norm(); };
    if (others.size() > max_neighbours) {
        std::nth_element(others.begin(), others.begin() + max_neighbours, others.end(), nearer);
        others.resize(max_neighbours);
    }
    std::sort(others.begin(), others.end(), nearer);
    return others;
}

bool lines_fan(const Grid& grid) {
    const auto* lines = std::get_if<LineGrid>(&grid);
    return lines && (lines->direction.front() - lines->direction.back()).norm() > 1e-9;
}

PredictionTerms terms_of(double wire_length_m) {
    PredictionTerms terms;
    terms.wire_length_m = wire_length_m;
    return terms;
}

PointReport report_point(const Image& image, std::size_t index) {
    const RecordingInfo& info = image.recording;
    const Vec3 place = info.truth.points[index].position_m;
    const double speed = info.medium.sound_speed_m_s;
    PointReport report;
    report.wire_length_m = info.truth.points[index].length_m;
    report.theory_lateral_6dB_m = lateral_theory_m(info, image.recipe, place, 0.5);
    report.theory_lateral_20dB_m = lateral_theory_m(info, image.recipe, place, 0.1);
    report.theory_axial_6dB_m = axial_theory_m(info.probe, speed, 0.5);
    report.theory_axial_20dB_m = axial_theory_m(info.probe, speed, 0.1);
    const PointPrediction predicted = predict_point(info, image.recipe, place, terms_of(report.wire_length_m));
    report.predicted_lateral_6dB_m = predicted.lateral_6dB.width_m;
    report.predicted_lateral_20dB_m = predicted.lateral_20dB.width_m;
    report.predicted_axial_6dB_m = predicted.axial_6dB.width_m;
    report.predicted_slice_6dB_m = elevation_width_m(info, image.recipe, place, 0.5).width_m;
    report.predicted_lateral_error_m = predicted.lateral_offset_m;
    report.predicted_lateral = predicted.lateral;
    report.predicted_reach_m = predicted.lateral_reach_m;
    const Vec3 direction = view_of(info, image.recipe, place).direction;
    report.line_angle_rad = std::atan2(direction.x(), direction.z());

    PointSearch search;
    search.true_m = place;
    // Half the predicted width; the box is 1.5 times that, since an echo out of focus may peak off the axis.
    search.lateral_resolution_m =
        std::max(report.theory_lateral_6dB_m, 0.5 * report.predicted_lateral_6dB_m.value_or(0.0));
    search.axial_resolution_m = report.theory_axial_6dB_m;
    search.neighbours_m = nearest_neighbours(info.truth.points, index);
    if (predicted.lateral_reach_m > 0.0) search.lateral_reach_m = predicted.lateral_reach_m;
    search.predicted_lateral_m = predicted.search_offset_m;
    search.axial_reach_m = axial_reach * report.theory_axial_6dB_m;
    report.measured = measure_point(image, search);
    return report;
}

/// Over the depths at which points were measured, along the column of the one nearest x = 0.
std::vector<std::pair<double, double>> predicted_curve(const Image& image, const std::vector<PointReport>& points) {
    std::vector<std::pair<double, double>> curve;
    const PointReport* central = nullptr;
    double min_depth = std::numeric_limits<double>::infinity(), max_depth = 0.0;
    for (const PointReport& point : points) {
        const PointMeasurement& measured = point.measured;
        if (!measured.found) continue;
        if (!central || std::abs(measured.true_m.x()) < std::abs(central->measured.true_m.x())) central = &point;
        min_depth = std::min(min_depth, measured.true_m.z());
        max_depth = std::max(max_depth, measured.true_m.z());
    }
    const double step = (max_depth - min_depth) / curve_steps;
    if (!(step > 0.0)) return curve;
    std::vector<double> widths(curve_steps + 1);
    const auto depth_m = [&](std::size_t n) { return min_depth + static_cast<double>(n) * step; };
    for_each_in_parallel(widths.size(), [&](std::size_t n) {
        const Vec3 place(central->measured.true_m.x(), 0.0, depth_m(n));
        const auto predicted = predict_point(image.recording, image.recipe, place, terms_of(central->wire_length_m));
        widths[n] = predicted.lateral_6dB.width_m.value_or(0.0);
    });
    for (std::size_t n = 0; n < widths.size(); ++n) {
        if (widths[n] > 0.0) curve.emplace_back(depth_m(n), widths[n]);
    }
    return curve;
}

}  // namespace

std::optional<double> PointReport::ratio() const {
    if (!measured.found || !measured.lateral_6dB.width_m || !predicted_lateral_6dB_m) return std::nullopt;
    return *measured.lateral_6dB.width_m / *predicted_lateral_6dB_m;
}

ImageReport report_image(const Image& image) {
    return report_image(image, {});
}

ImageReport report_image(const Image& image, const AimedAt& aimed, bool with_curve) {
    if (image.recording.events.empty()) {
        throw InputError("the image's recording has no transmit events to compute theory from");
    }
    ImageReport report;
    report.recipe = image.recipe.name;
    report.title = image.recipe.title.empty() ? image.recipe.name : image.recipe.title;
    report.label = report.title;
    report.provenance = provenance(image);
    report.probe = image.recording.probe.name;
    report.center_Hz = image.recording.probe.center_Hz;
    report.bandwidth_fraction = image.recording.probe.bandwidth_fraction;
    report.sound_speed_m_s = image.recording.medium.sound_speed_m_s;
    report.assumed_sound_speed_m_s = image.sound_speed_m_s;
    report.recording_digest = image.recording.content_digest;
    report.points.resize(image.recording.truth.points.size());
    for_each_in_parallel(report.points.size(), [&](std::size_t n) { report.points[n] = report_point(image, n); });
    std::stable_sort(report.points.begin(), report.points.end(), [](const PointReport& a, const PointReport& b) {
        const Vec3& first = a.measured.true_m;
        const Vec3& second = b.measured.true_m;
        return first.z() != second.z() ? first.z() < second.z() : first.x() < second.x();
    });
    for (PointReport& point : report.points) point.place_known = aimed.points != PointSource::detected;
    report.aimed_at = aimed.description;
    report.regions_given = aimed.regions_given;
    report.lines_fan = lines_fan(image.grid);
    report.notes = theory_notes(image);
    for (std::string& note : difference_notes(image, report.points)) report.notes.push_back(std::move(note));
    if (with_curve) report.predicted_curve_m = predicted_curve(image, report.points);
    return report;
}

void label_apart(std::span<ImageReport> images) {
    std::map<std::string, int> uses;
    for (const ImageReport& image : images) ++uses[image.label];
    for (ImageReport& image : images) {
        if (uses[image.label] > 1 && !image.file.empty()) image.label += " (" + image.file + ")";
    }
}

}  // namespace echoloom
