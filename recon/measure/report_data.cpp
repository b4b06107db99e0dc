// The same report for machines: CSV and JSON.

#include <array>
#include <cmath>
#include <nlohmann/json.hpp>
#include <numbers>

#include "recon/measure/csv.h"
#include "recon/measure/report.h"

namespace echoloom {
namespace {

constexpr int format_version = 1;

std::optional<double> millimetres(std::optional<double> length_m) {
    if (!length_m || !std::isfinite(*length_m)) return std::nullopt;
    return *length_m * 1e3;
}

/// One named number of a point; the unit is in the name.
struct Figure {
    const char* name;
    std::optional<double> value;
};

std::vector<Figure> figures(const PointReport& point) {
    const PointMeasurement& measured = point.measured;
    const auto if_measured = [&](double length_m) {
        return measured.found ? std::optional(length_m * 1e3) : std::nullopt;
    };
    return {
        {"true_x_mm", measured.true_m.x() * 1e3},
        {"true_depth_mm", measured.true_m.z() * 1e3},
        {"peak_x_mm", if_measured(measured.peak_m.x())},
        {"peak_depth_mm", if_measured(measured.peak_m.z())},
        {"line_angle_deg", point.line_angle_rad * 180.0 / std::numbers::pi},
        {"lateral_error_mm", point.place_known ? if_measured(measured.lateral_error_m) : std::nullopt},
        {"lateral_error_predicted_mm", point.predicted_lateral_error_m * 1e3},
        {"axial_error_mm", point.place_known ? if_measured(measured.axial_error_m) : std::nullopt},
        {"lateral_6dB_mm", millimetres(measured.lateral_6dB.width_m)},
        {"lateral_6dB_theory_mm", millimetres(point.theory_lateral_6dB_m)},
        {"lateral_6dB_predicted_mm", millimetres(point.predicted_lateral_6dB_m)},
        {"lateral_6dB_ratio", point.ratio()},
        {"lateral_20dB_mm", millimetres(measured.lateral_20dB.width_m)},
        {"lateral_20dB_theory_mm", millimetres(point.theory_lateral_20dB_m)},
        {"lateral_20dB_predicted_mm", millimetres(point.predicted_lateral_20dB_m)},
        {"axial_6dB_mm", millimetres(measured.axial_6dB.width_m)},
        {"axial_6dB_theory_mm", point.theory_axial_6dB_m * 1e3},
        {"axial_6dB_predicted_mm", millimetres(point.predicted_axial_6dB_m)},
        {"axial_20dB_mm", millimetres(measured.axial_20dB.width_m)},
        {"axial_20dB_theory_mm", point.theory_axial_20dB_m * 1e3},
        {"slice_6dB_predicted_mm", millimetres(point.predicted_slice_6dB_m)},
    };
}

using Json = nlohmann::ordered_json;

Json number_or_null(std::optional<double> value) {
    return value && std::isfinite(*value) ? Json(*value) : Json(nullptr);
}

/// One key for each quantity, reference and comparison: "cnr", "cnr_95_percent", "cnr_theory", "cnr_ratio".
Json section_json(const Section& section) {
    Json json;
    json["definitions"] = Json::object();
    for (const QuantityKind& kind : section.kinds) json["definitions"][kind.key] = kind.sources;
    if (!section.notes.empty()) json["notes"] = section.notes;
    json["rows"] = Json::array();
    for (const SectionRow& row : section.rows) {
        Json entry;
        if (!row.label.empty()) entry["label"] = row.label;
        if (row.x_mm) entry["x_mm"] = *row.x_mm;
        if (row.depth_mm) entry["depth_mm"] = *row.depth_mm;
        Json notes = Json::array();
        for (std::size_t n = 0; n < section.kinds.size() && n < row.quantities.size(); ++n) {
            const QuantityKind& kind = section.kinds[n];
            const Quantity& quantity = row.quantities[n];
            entry[kind.key] = number_or_null(quantity.value);
            if (quantity.confidence) {
                entry[kind.key + "_95_percent"] = {quantity.confidence->first, quantity.confidence->second};
            }
            for (std::size_t t = 0; t < kind.references.size(); ++t) {
                entry[kind.key + "_" + kind.references[t]] =
                    number_or_null(t < quantity.references.size() ? quantity.references[t] : std::nullopt);
            }
            if (kind.comparison != Comparison::none) {
                entry[kind.key + "_" + comparison_name(kind)] = number_or_null(compared(kind, quantity));
            }
            if (!quantity.note.empty()) notes.push_back(kind.key + ": " + quantity.note);
        }
        if (!row.note.empty()) notes.push_back(row.note);
        entry["notes"] = std::move(notes);
        json["rows"].push_back(std::move(entry));
    }
    return json;
}

struct NamedWidth {
    const char* name;
    const LevelWidth& width;
};

std::array<NamedWidth, 4> widths(const PointMeasurement& measured) {
    return {NamedWidth{"lateral_6dB", measured.lateral_6dB}, NamedWidth{"lateral_20dB", measured.lateral_20dB},
            NamedWidth{"axial_6dB", measured.axial_6dB}, NamedWidth{"axial_20dB", measured.axial_20dB}};
}

/// What the reader of these numbers should know: "lateral_20dB: the image ends ...".
std::vector<std::string> notes(const PointMeasurement& measured) {
    if (!measured.found) return {"not measured: " + measured.reason};
    std::vector<std::string> all;
    for (const auto& [name, width] : widths(measured)) {
        if (!width.reason.empty()) all.push_back(std::string(name) + ": " + width.reason);
        if (width.coarse()) all.push_back(std::string(name) + ": fewer than 3 pixels across");
        if (width.lobes) {
            all.push_back(std::string(name) +
                          ": spans several lobes (between them the profile falls below this level)");
        }
    }
    return all;
}

}  // namespace

std::string csv_report(std::span<const ImageReport> images) {
    std::string text = std::string("# ") + caution + "\nfile,recipe,measured";
    for (const Figure& figure : figures({})) text.append(",").append(figure.name);
    text += ",notes\n";
    for (const ImageReport& image : images) {
        for (const PointReport& point : image.points) {
            text.append(csv_word(image.file)).append(",").append(csv_word(image.recipe));
            text.append(point.measured.found ? ",1" : ",0");
            for (const Figure& figure : figures(point)) text.append(",").append(csv_number(figure.value));
            std::string joined;
            for (const std::string& note : notes(point.measured)) {
                joined.append(joined.empty() ? "" : "; ").append(note);
            }
            text.append(",").append(csv_word(joined)).append("\n");
        }
    }
    return text;
}

std::string json_report(std::span<const ImageReport> images) {
    Json root;
    root["format"] = "echoloom measurement";
    root["format_version"] = format_version;
    root["caution"] = caution;
    root["levels"] = {{"6dB", 0.5}, {"20dB", 0.1}};
    root["images"] = Json::array();
    for (const ImageReport& image : images) {
        Json entry;
        entry["file"] = image.file;
        entry["recipe"] = image.recipe;
        entry["title"] = image.title;
        entry["probe"] = image.probe;
        entry["center_MHz"] = image.center_Hz * 1e-6;
        entry["bandwidth_fraction"] = image.bandwidth_fraction;
        entry["sound_speed_m_s"] = image.sound_speed_m_s;
        entry["assumed_sound_speed_m_s"] = image.assumed_sound_speed_m_s;
        entry["recording_digest"] = image.recording_digest;
        if (!image.aimed_at.empty()) entry["aimed_at"] = image.aimed_at;
        entry["theory_notes"] = image.notes;
        entry["points"] = Json::array();
        for (const PointReport& point : image.points) {
            Json row;
            row["measured"] = point.measured.found;
            for (const Figure& figure : figures(point)) {
                row[figure.name] = figure.value ? Json(*figure.value) : Json(nullptr);
            }
            row["notes"] = notes(point.measured);
            entry["points"].push_back(std::move(row));
        }
        for (const Section& section : image.sections) entry[section.key] = section_json(section);
        root["images"].push_back(std::move(entry));
    }
    return root.dump(2) + "\n";
}

}  // namespace echoloom
