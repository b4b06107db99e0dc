// Correlations between pulses as a table, CSV and JSON.

#include <array>
#include <cstdio>
#include <nlohmann/json.hpp>
#include <numbers>

#include "recon/measure/correlation.h"
#include "recon/measure/csv.h"
#include "recon/measure/report.h"
#include "sim/base/text.h"

namespace echoloom {
namespace {

constexpr int format_version = 1;
constexpr double degree = std::numbers::pi / 180.0;
/// The table shows this many later pulses of each target; CSV and JSON show all.
constexpr std::size_t max_rows = 12;

constexpr const char* meaning =
    "1: both pulses received the same echo, as with a stationary beam. Whatever is below 1, and the shift, is "
    "caused by the\n"
    "beam's own motion; a measurement cannot distinguish it from motion of the target, which here did not move.\n";

struct Figure {
    const char* name;
    double value;
};

std::array<Figure, 8> figures(const LaterPulse& pulse) {
    return {Figure{"pulses_later", static_cast<double>(pulse.pulses)},
            Figure{"angle_deg", pulse.angle_rad / degree},
            Figure{"moved_mm", pulse.moved_m * 1e3},
            Figure{"beam_widths", pulse.beam_widths},
            Figure{"correlation", pulse.correlation},
            Figure{"level_dB", pulse.level_dB},
            Figure{"apparent_shift_mm", pulse.apparent_m * 1e3},
            Figure{"best_correlation", pulse.best_correlation}};
}

std::string heading(const CorrelationReport& image) {
    std::string text = (image.file.empty() ? "" : image.file + ": ") + image.title;
    if (!image.recipe.empty() && image.recipe != image.title) text += " [" + image.recipe + "]";
    text += "\n  gate " + plain(std::round(image.gate_m * 1e6) * 1e-3) + " mm";
    if (image.pulse_interval_s) {
        text += ", a pulse every " + plain(std::round(*image.pulse_interval_s * 1e7) * 0.1) + " us";
    }
    if (image.rotation_rate_rad_s) {
        text += *image.rotation_rate_rad_s == 0.0
                    ? ", a head that is stationary during each line"
                    : ", a head that rotates by " +
                          plain(std::round(*image.rotation_rate_rad_s / degree * 10.0) * 0.1) + " degrees per second";
    }
    return text + "\n";
}

std::string target_rows(const TargetCorrelation& target) {
    std::array<char, 160> line{};
    std::string text;
    const std::size_t step = std::max<std::size_t>(1, (target.pulses.size() + max_rows - 1) / max_rows);
    for (std::size_t n = 0; n < target.pulses.size(); n += step) {
        const LaterPulse& p = target.pulses[n];
        std::snprintf(line.data(), line.size(), "%8.2f %7.2f %7d %8.3f %7.3f %7.2f %12.4f %8.1f %9.4f%s\n",
                      target.true_m.z() * 1e3, target.true_m.x() * 1e3, p.pulses, p.angle_rad / degree, p.moved_m * 1e3,
                      p.beam_widths, p.correlation, p.level_dB, p.apparent_m * 1e3,
                      n == 0 ? "  (a stationary beam, any later pulse)" : "");
        text += line.data();
    }
    return text;
}

}  // namespace

std::string correlation_text(std::span<const CorrelationReport> images) {
    std::string text =
        "Correlation between successive pulses: the RF of the line through each target against that of later lines, "
        "over\nfour wavelengths around the target. shift: axial, for the best match.\n";
    text += meaning;
    for (const CorrelationReport& image : images) {
        text.append("\n").append(heading(image));
        text +=
            "   depth       x   later    angle   moved    beam  correlation     echo     shift\n"
            "      mm      mm  pulses  degrees      mm  widths                    dB        mm\n";
        for (const TargetCorrelation& target : image.targets) {
            text += target_rows(target);
            if (!target.reason.empty()) {
                text += "  x " + plain(std::round(target.true_m.x() * 1e5) * 1e-2) + " mm, depth " +
                        plain(std::round(target.true_m.z() * 1e5) * 1e-2) + " mm: " + target.reason + "\n";
            }
        }
    }
    return text + "\n" + caution + "\n";
}

std::string correlation_csv(std::span<const CorrelationReport> images) {
    std::string text = std::string("# ") + caution + "\nfile,recipe,true_x_mm,true_depth_mm";
    for (const Figure& figure : figures({})) text.append(",").append(figure.name);
    text += "\n";
    for (const CorrelationReport& image : images) {
        for (const TargetCorrelation& target : image.targets) {
            for (const LaterPulse& pulse : target.pulses) {
                text.append(csv_word(image.file)).append(",").append(csv_word(image.recipe));
                text.append(",").append(csv_number(target.true_m.x() * 1e3));
                text.append(",").append(csv_number(target.true_m.z() * 1e3));
                for (const Figure& figure : figures(pulse)) text.append(",").append(csv_number(figure.value));
                text += "\n";
            }
        }
    }
    return text;
}

std::string correlation_json(std::span<const CorrelationReport> images) {
    using Json = nlohmann::ordered_json;
    const auto or_null = [](const std::optional<double>& value) { return value ? Json(*value) : Json(nullptr); };
    Json root;
    root["format"] = "echoloom pulse correlation";
    root["format_version"] = format_version;
    root["caution"] = caution;
    std::string sentence = meaning;
    for (char& c : sentence) c = c == '\n' ? ' ' : c;
    root["meaning"] = sentence.substr(0, sentence.find_last_not_of(' ') + 1);
    root["images"] = Json::array();
    for (const CorrelationReport& image : images) {
        Json entry;
        entry["file"] = image.file;
        entry["recipe"] = image.recipe;
        entry["title"] = image.title;
        entry["gate_mm"] = image.gate_m * 1e3;
        entry["turn_rate_deg_s"] =
            image.rotation_rate_rad_s ? Json(*image.rotation_rate_rad_s / degree) : Json(nullptr);
        entry["pulse_interval_s"] = or_null(image.pulse_interval_s);
        entry["targets"] = Json::array();
        for (const TargetCorrelation& target : image.targets) {
            Json row;
            row["true_x_mm"] = target.true_m.x() * 1e3;
            row["true_depth_mm"] = target.true_m.z() * 1e3;
            row["reason"] = target.reason;
            row["pulses"] = Json::array();
            for (const LaterPulse& pulse : target.pulses) {
                Json cells;
                for (const Figure& figure : figures(pulse)) cells[figure.name] = figure.value;
                row["pulses"].push_back(std::move(cells));
            }
            entry["targets"].push_back(std::move(row));
        }
        root["images"].push_back(std::move(entry));
    }
    return root.dump(2) + "\n";
}

}  // namespace echoloom
