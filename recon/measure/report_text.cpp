// The table for people.

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <numbers>
#include <vector>

#include "recon/measure/note_letters.h"
#include "recon/measure/report.h"
#include "recon/measure/section_output.h"
#include "sim/base/text.h"

namespace echoloom {
namespace {

std::string fixed(double value, int decimals) {
    std::array<char, 64> buffer{};
    std::snprintf(buffer.data(), buffer.size(), "%.*f", decimals, value);
    return buffer.data();
}

/// A length as millimetres; "-" where there is none.
std::string millimetres(std::optional<double> length_m, int decimals = 3) {
    return length_m && std::isfinite(*length_m) ? fixed(*length_m * 1e3, decimals) : "-";
}

/// A measured width with the mark of its note, if any.
std::string width_cell(const LevelWidth& width, NoteLetters& notes) {
    std::string cell = millimetres(width.width_m);
    if (!width.width_m) return cell + notes.letter(width.reason);
    if (width.coarse()) {
        return cell + notes.letter("fewer than 3 pixels across: make the grid finer to trust the width");
    }
    if (width.lobes) return cell + notes.letter("spans several lobes: between them the profile falls below this level");
    return cell + " ";
}

using Row = std::vector<std::string>;

Row point_row(const PointReport& point, NoteLetters& notes) {
    const PointMeasurement& measured = point.measured;
    Row row{fixed(measured.true_m.z() * 1e3, 2), fixed(measured.true_m.x() * 1e3, 2),
            fixed(point.line_angle_rad * 180.0 / std::numbers::pi, 1)};
    if (measured.found) {
        row.push_back(width_cell(measured.lateral_6dB, notes));
    } else {
        row.push_back(std::string("-") + notes.letter("not measured: " + measured.reason));
    }
    row.push_back(millimetres(point.theory_lateral_6dB_m));
    row.push_back(millimetres(point.predicted_lateral_6dB_m));
    row.push_back(point.ratio() ? fixed(*point.ratio(), 3) : "-");
    if (!measured.found) {
        row.insert(row.end(),
                   {"- ", millimetres(point.predicted_lateral_20dB_m), "- ", millimetres(point.theory_axial_6dB_m),
                    millimetres(point.predicted_slice_6dB_m), "-", "-"});
        return row;
    }
    row.push_back(width_cell(measured.lateral_20dB, notes));
    row.push_back(millimetres(point.predicted_lateral_20dB_m));
    row.push_back(width_cell(measured.axial_6dB, notes));
    row.push_back(millimetres(point.theory_axial_6dB_m));
    row.push_back(millimetres(point.predicted_slice_6dB_m));
    row.push_back(point.place_known ? millimetres(measured.lateral_error_m) : "-");
    row.push_back(point.place_known ? millimetres(measured.axial_error_m) : "-");
    return row;
}

/// Columns that belong together, under one label.
struct Group {
    std::size_t first_column;
    const char* label;
};
constexpr std::array<Group, 6> groups{Group{0, ""},
                                      Group{3, "lateral -6 dB"},
                                      Group{7, "lateral -20 dB"},
                                      Group{9, "axial -6 dB"},
                                      Group{11, "slice -6 dB"},
                                      Group{12, "position error"}};
/// Shown only where lines fan.
constexpr std::size_t angle_column = 2;

/// Right-aligned columns, groups set apart and labelled above.
std::string aligned(const std::vector<Row>& rows, bool with_angle) {
    std::vector<std::size_t> widths(rows.front().size(), 0);
    for (const Row& row : rows) {
        for (std::size_t n = 0; n < row.size(); ++n) widths[n] = std::max(widths[n], row[n].size());
    }
    std::string labels, text;
    std::vector<std::size_t> gaps(widths.size(), 2);
    std::size_t place = 0;
    const auto shown = [&](std::size_t n) { return with_angle || n != angle_column; };
    for (std::size_t n = 0; n < widths.size(); ++n) {
        if (!shown(n)) continue;
        for (const Group& group : groups) {
            if (group.first_column != n) continue;
            // A label may be longer than the columns below it.
            gaps[n] = std::max<std::size_t>(3, labels.size() + 3 - std::min(place, labels.size() + 3));
            labels.resize(std::max(labels.size(), place + gaps[n]), ' ');
            labels += group.label;
        }
        place += gaps[n] + widths[n];
    }
    for (const Row& row : rows) {
        std::string line;
        for (std::size_t n = 0; n < row.size(); ++n) {
            if (shown(n)) line.append(gaps[n] + widths[n] - row[n].size(), ' ').append(row[n]);
        }
        line.erase(line.find_last_not_of(' ') + 1);
        text.append(line).append("\n");
    }
    return labels + "\n" + text;
}

std::string heading(const ImageReport& image) {
    std::string text = (image.file.empty() ? "" : image.file + ": ") + image.title;
    if (!image.recipe.empty() && image.recipe != image.title) text += " [" + image.recipe + "]";
    text += "\n  " + (image.probe.empty() ? "probe" : image.probe) + ", " + plain(image.center_Hz * 1e-6) + " MHz, " +
            plain(image.bandwidth_fraction * 100.0) + " % bandwidth, " + plain(image.sound_speed_m_s) + " m/s";
    if (image.assumed_sound_speed_m_s != image.sound_speed_m_s) {
        text += " (reconstructed for " + plain(image.assumed_sound_speed_m_s) + " m/s)";
    }
    text += "\n";
    if (!image.aimed_at.empty()) text += "  " + image.aimed_at + "\n";
    return text;
}

/// Widths of an image's points, with their notes.
std::string points_table(const ImageReport& image) {
    NoteLetters notes;
    std::vector<Row> rows{{"depth", "x", "angle", "measured ", "theory", "predicted", "ratio", "measured ", "predicted",
                           "measured ", "theory", "predicted", "lateral", "axial"}};
    for (const PointReport& point : image.points) rows.push_back(point_row(point, notes));
    return aligned(rows, image.lines_fan) + notes.text();
}

}  // namespace

std::string text_report(std::span<const ImageReport> images) {
    std::string text =
        "Widths of points, in mm. -6 dB and -20 dB: at exactly half and one tenth of the peak amplitude. theory:\n"
        "both apertures in focus at every depth, at the centre frequency (axial: 0.4413 wavelength/bandwidth,\n"
        "without attenuation). predicted: computed for this recipe over the pulse's spectrum. ratio: measured over\n"
        "predicted. slice: thickness in elevation. position error: peak minus true position. angle: of the line\n"
        "nearest the point, in degrees.\n";
    // Each kind of section is explained once, however many images have it.
    std::vector<std::string> explained;
    for (const ImageReport& image : images) {
        for (const Section& section : image.sections) {
            if (std::find(explained.begin(), explained.end(), section.key) != explained.end()) continue;
            explained.push_back(section.key);
            text += section_explanation(section);
        }
    }
    for (const ImageReport& image : images) {
        text.append("\n").append(heading(image));
        if (image.points.empty()) {
            text += "  the recording contains no points\n";
        } else {
            text += points_table(image);
        }
        for (const std::string& note : image.notes) text += "  " + note + "\n";
        for (const Section& section : image.sections) text += section_text(section);
    }
    return text + "\n" + caution + "\n";
}

}  // namespace echoloom
