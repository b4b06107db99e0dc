#include "tests/benchmark/report.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <nlohmann/json.hpp>
#include <utility>

namespace echoloom::benchmark {

namespace {

constexpr std::size_t column_count = 8;
using Line = std::array<std::string, column_count>;
const Line titles{"stage", "workload", "median", "least .. most", "rate", "of its roof", "goal", "met"};

/// Three figures, without an exponent for what people read.
std::string figures(double value) {
    const double size = std::abs(value);
    const int digits = size >= 100.0 || size == 0.0 ? 0 : size >= 10.0 ? 1 : size >= 1.0 ? 2 : size >= 0.1 ? 3 : 4;
    std::array<char, 64> text{};
    std::snprintf(text.data(), text.size(), "%.*f", digits, value);
    return text.data();
}

/// Scaled so that times are read in seconds or milliseconds.
std::pair<double, std::string> readable(double value, const std::string& unit, double like) {
    if (unit == "s" && std::abs(like) < 0.5) {
        return {value * 1e3, "ms"};
    }
    if (unit.empty()) {
        return {value * 100.0, "%"};
    }
    return {value, unit};
}

std::string scaled_words(double value, const std::string& unit, double like) {
    const auto [scaled, scaled_unit] = readable(value, unit, like);
    return figures(scaled) + ' ' + scaled_unit;
}

Line line_of(const Row& row) {
    const double middle = row.value.median;
    const auto [least, unit] = readable(row.value.least, row.unit, middle);
    Line line{row.stage, row.workload, in_words(middle, row.unit), "", row.rate, "", "", ""};
    line[3] = figures(least) + " .. " + figures(readable(row.value.most, row.unit, middle).first);
    if (row.roof_fraction) {
        line[5] = figures(100.0 * *row.roof_fraction) + " % " + row.roof;
    }
    if (row.goal) {
        line[6] = (row.goal->at_most ? "<= " : ">= ") + in_words(row.goal->bound, row.unit);
        line[7] = row.goal->met(middle) ? "yes" : "NO";
    }
    return line;
}

std::string joined(const Line& line, const std::array<std::size_t, column_count>& widths) {
    std::string text = "|";
    for (std::size_t i = 0; i < column_count; ++i) {
        text += ' ' + line[i] + std::string(widths[i] - line[i].size(), ' ') + " |";
    }
    return text + '\n';
}

}  // namespace

std::string in_words(double value, const std::string& unit) {
    return scaled_words(value, unit, value);
}

void Report::add(Row row) {
    std::fprintf(stderr, "  %-9s %s, %s: %s\n", row.group.c_str(), row.stage.c_str(), row.workload.c_str(),
                 in_words(row.value.median, row.unit).c_str());
    rows_.push_back(std::move(row));
}

std::string Report::table(const Machine& machine) const {
    std::string text =
        machine.processor + ", " + std::to_string(machine.threads) + " threads, " + machine.vector_target + "\n";
    for (const std::string& warning : machine.warnings) {
        text += "warning: " + warning + '\n';
    }
    std::vector<Line> lines{titles};
    std::vector<std::string> notes;
    for (const Row& row : rows_) {
        lines.push_back(line_of(row));
        if (!row.note.empty()) {
            if (std::ranges::find(notes, row.note) == notes.end()) {
                notes.push_back(row.note);
            }
            const auto number = std::ranges::find(notes, row.note) - notes.begin() + 1;
            lines.back()[1] += " [" + std::to_string(number) + ']';
        }
    }
    std::array<std::size_t, column_count> widths{};
    for (const Line& line : lines) {
        for (std::size_t i = 0; i < column_count; ++i) {
            widths[i] = std::max(widths[i], line[i].size());
        }
    }
    text += '\n' + joined(lines.front(), widths) + '|';
    for (const std::size_t width : widths) {
        text += std::string(width + 2, '-') + '|';
    }
    text += '\n';
    for (std::size_t i = 1; i < lines.size(); ++i) {
        text += joined(lines[i], widths);
    }
    for (std::size_t i = 0; i < notes.size(); ++i) {
        text += (i == 0 ? "\n[" : "[") + std::to_string(i + 1) + "] " + notes[i] + '\n';
    }
    return text;
}

std::string Report::json(const Machine& machine) const {
    nlohmann::ordered_json root;
    root["processor"] = machine.processor;
    root["threads"] = machine.threads;
    root["vector_target"] = machine.vector_target;
    root["warnings"] = machine.warnings;
    root["rows"] = nlohmann::ordered_json::array();
    for (const Row& row : rows_) {
        nlohmann::ordered_json out;
        out["group"] = row.group;
        out["stage"] = row.stage;
        out["workload"] = row.workload;
        out["unit"] = row.unit;
        out["median"] = row.value.median;
        out["least"] = row.value.least;
        out["most"] = row.value.most;
        out["rate"] = row.rate;
        if (row.roof_fraction) {
            out["roof"] = row.roof;
            out["roof_fraction"] = *row.roof_fraction;
        }
        if (row.goal) {
            out["goal"] = {{row.goal->at_most ? "at_most" : "at_least", row.goal->bound}};
            out["met"] = row.goal->met(row.value.median);
        }
        if (!row.note.empty()) {
            out["note"] = row.note;
        }
        root["rows"].push_back(out);
    }
    return root.dump(2) + '\n';
}

}  // namespace echoloom::benchmark
