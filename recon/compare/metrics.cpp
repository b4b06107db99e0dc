#include "recon/compare/metrics.h"

#include <cmath>
#include <cstdio>
#include <map>

#include "recon/measure/report.h"
#include "recon/measure/sections.h"
#include "sim/base/error.h"

namespace echoloom {

namespace {

std::string place_text(std::optional<double> x_mm, std::optional<double> depth_mm) {
    char text[64] = "";
    if (x_mm && depth_mm) {
        std::snprintf(text, sizeof text, "x %.2f, depth %.2f mm", *x_mm + 0.0, *depth_mm);
    } else if (depth_mm) {
        std::snprintf(text, sizeof text, "depth %.2f mm", *depth_mm);
    }
    return text;
}

void add_points(const ImageReport& report, std::vector<Metric>& metrics) {
    const auto mm = [](std::optional<double> length_m) {
        return length_m && std::isfinite(*length_m) ? std::optional(*length_m * 1e3) : std::nullopt;
    };
    for (const PointReport& point : report.points) {
        const PointMeasurement& measured = point.measured;
        const std::string where = place_text(measured.true_m.x() * 1e3, measured.true_m.z() * 1e3);
        const auto add = [&](const char* name, std::optional<double> value) {
            metrics.push_back({std::string("points.") + name, where, measured.found ? value : std::nullopt});
        };
        metrics.push_back({"points.measured", where, measured.found ? 1.0 : 0.0});
        add("lateral_6dB_mm", mm(measured.lateral_6dB.width_m));
        add("lateral_20dB_mm", mm(measured.lateral_20dB.width_m));
        add("axial_6dB_mm", mm(measured.axial_6dB.width_m));
        add("axial_20dB_mm", mm(measured.axial_20dB.width_m));
        if (point.place_known) {
            add("lateral_error_mm", mm(measured.lateral_error_m));
            add("axial_error_mm", mm(measured.axial_error_m));
        }
        const bool visible = measured.peak_amplitude > 0.0;
        add("level_dB", visible ? std::optional(20.0 * std::log10(measured.peak_amplitude)) : std::nullopt);
    }
}

void add_section(const Section& section, std::vector<Metric>& metrics) {
    for (const SectionRow& row : section.rows) {
        const std::string place = place_text(row.x_mm, row.depth_mm);
        const std::string where = row.label + (row.label.empty() || place.empty() ? "" : ", ") + place;
        for (std::size_t n = 0; n < section.kinds.size() && n < row.quantities.size(); ++n) {
            metrics.push_back({section.key + "." + section.kinds[n].key, where, row.quantities[n].value});
        }
    }
}

/// Several metrics of one name at one place are numbered.
void number_repeated(std::vector<Metric>& metrics) {
    std::map<std::pair<std::string, std::string>, int> seen;
    for (Metric& metric : metrics) {
        const int count = ++seen[{metric.name, metric.where}];
        if (count > 1) {
            metric.where += " (" + std::to_string(count) + ")";
        }
    }
}

std::vector<Metric> metrics_at(const Image& image, const AimedAt& aimed) {
    const ImageReport report = report_image(image, aimed, false);
    std::vector<Metric> metrics;
    add_points(report, metrics);
    for (const Section& section : report_sections(image, report)) {
        add_section(section, metrics);
    }
    number_repeated(metrics);
    return metrics;
}

bool has_targets(const Image& image) {
    const Truth& truth = image.recording.truth;
    return !truth.points.empty() || !truth.regions.empty() || !truth.sheets.empty();
}

}  // namespace

std::vector<Metric> image_metrics(const Image& image) {
    return metrics_at(image, {});
}

MetricPair metrics_of_both(const Image& before, const Image& after) {
    if (before.recording.events.empty() || after.recording.events.empty()) {
        return {};
    }
    if (has_targets(before) || has_targets(after)) {
        return {image_metrics(before), image_metrics(after), ""};
    }
    Image aimed_before = before;
    Image aimed_after = after;
    Aim same;
    std::string description;
    try {
        description = take_aim(aimed_before, {}).description;
        for (const TruePoint& point : aimed_before.recording.truth.points) {
            same.points.push_back(point.position_m);
        }
        take_aim(aimed_after, same);
    } catch (const InputError&) {
        return {};  // nothing stands out
    }
    AimedAt detected;
    detected.points = PointSource::detected;
    return {metrics_at(aimed_before, detected), metrics_at(aimed_after, detected), description};
}

}  // namespace echoloom
