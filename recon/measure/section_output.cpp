#include "recon/measure/section_output.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <sstream>

#include "recon/measure/csv.h"
#include "recon/measure/note_letters.h"

namespace echoloom {
namespace {

constexpr std::size_t line_length = 116;

std::string fixed(std::optional<double> value, int decimals) {
    if (!value || std::isnan(*value)) return "-";
    if (std::isinf(*value)) return *value < 0.0 ? "none" : "inf";
    std::array<char, 64> buffer{};
    std::snprintf(buffer.data(), buffer.size(), "%.*f", decimals, *value);
    return buffer.data();
}

/// Columns under one heading.
struct ColumnGroup {
    std::string heading;
    bool left = false;                            ///< text, not numbers
    std::vector<std::vector<std::string>> cells;  ///< [column][row], the column's name first
};

ColumnGroup place_group(const Section& section) {
    ColumnGroup group;
    const auto any = [&](auto member) {
        return std::ranges::any_of(section.rows, [&](const SectionRow& row) { return (row.*member).has_value(); });
    };
    const auto add = [&](const char* name, std::optional<double> SectionRow::*member) {
        if (!any(member)) return;
        group.cells.push_back({name});
        for (const SectionRow& row : section.rows) group.cells.back().push_back(fixed(row.*member, 2));
    };
    add("depth", &SectionRow::depth_mm);
    add("x", &SectionRow::x_mm);
    return group;
}

ColumnGroup quantity_group(const Section& section, std::size_t kind_index, NoteLetters& notes) {
    const QuantityKind& kind = section.kinds[kind_index];
    ColumnGroup group;
    group.heading = kind.heading;
    const auto cell = [&](const SectionRow& row) -> const Quantity* {
        return kind_index < row.quantities.size() ? &row.quantities[kind_index] : nullptr;
    };
    const bool plain = kind.references.empty();
    group.cells.push_back({plain ? "" : "measured "});
    bool confident = false;
    for (const SectionRow& row : section.rows) {
        const Quantity* quantity = cell(row);
        std::string text = fixed(quantity ? quantity->value : std::nullopt, kind.decimals);
        text += quantity && !quantity->note.empty() ? std::string(1, notes.letter(quantity->note)) : " ";
        group.cells.back().push_back(text);
        confident = confident || (quantity && quantity->confidence);
    }
    if (confident) {
        group.cells.push_back({"+-"});
        for (const SectionRow& row : section.rows) {
            const Quantity* quantity = cell(row);
            if (!quantity || !quantity->confidence) {
                group.cells.back().push_back("-");
                continue;
            }
            const auto [low, high] = *quantity->confidence;
            group.cells.back().push_back(fixed(0.5 * (high - low), kind.decimals));
        }
    }
    for (std::size_t n = 0; n < kind.references.size(); ++n) {
        group.cells.push_back({kind.references[n]});
        for (const SectionRow& row : section.rows) {
            const Quantity* quantity = cell(row);
            const bool known = quantity && n < quantity->references.size();
            group.cells.back().push_back(fixed(known ? quantity->references[n] : std::nullopt, kind.decimals));
        }
    }
    if (kind.comparison != Comparison::none) {
        const bool ratio = kind.comparison == Comparison::ratio;
        group.cells.push_back({comparison_name(kind)});
        for (const SectionRow& row : section.rows) {
            const Quantity* quantity = cell(row);
            const auto value = quantity ? compared(kind, *quantity) : std::nullopt;
            group.cells.back().push_back(fixed(value, ratio ? 3 : kind.decimals));
        }
    }
    return group;
}

ColumnGroup text_group(const Section& section, NoteLetters& notes) {
    ColumnGroup group;
    group.left = true;
    const bool labels = std::ranges::any_of(section.rows, [](const SectionRow& row) { return !row.label.empty(); });
    const bool noted = std::ranges::any_of(section.rows, [](const SectionRow& row) { return !row.note.empty(); });
    if (!labels && !noted) return group;
    group.cells.push_back({""});
    for (const SectionRow& row : section.rows) {
        const std::string mark = row.note.empty() ? "" : std::string(1, notes.letter(row.note));
        group.cells.back().push_back(row.label + (row.label.empty() || mark.empty() ? "" : " ") + mark);
    }
    return group;
}

std::string padded(const std::string& text, std::size_t width, bool left) {
    const std::string space(width > text.size() ? width - text.size() : 0, ' ');
    return left ? text + space : space + text;
}

std::string trimmed(std::string line) {
    line.erase(line.find_last_not_of(' ') + 1);
    return line + "\n";
}

std::string laid_out(const std::vector<ColumnGroup>& groups, std::size_t rows) {
    std::string headings = "  ";
    std::vector<std::string> lines(rows + 1, "  ");
    for (const ColumnGroup& group : groups) {
        if (group.cells.empty()) continue;
        const std::size_t start = lines.front().size();
        for (const auto& column : group.cells) {
            std::size_t width = 0;
            for (const std::string& text : column) width = std::max(width, text.size());
            for (std::size_t n = 0; n < lines.size(); ++n) lines[n] += padded(column[n], width, group.left) + "  ";
        }
        headings.resize(std::max(headings.size(), start), ' ');
        // A heading wider than what stands below it pushes the next group on.
        headings += group.heading;
        const std::size_t end = std::max(lines.front().size(), headings.size() + (group.heading.empty() ? 0 : 2));
        for (std::string& line : lines) line.resize(end + 1, ' ');
    }
    std::string text = trimmed(headings);
    for (const std::string& line : lines) text += trimmed(line);
    return text;
}

}  // namespace

std::string section_text(const Section& section) {
    NoteLetters notes;
    std::vector<ColumnGroup> groups;
    groups.push_back(text_group(section, notes));
    groups.push_back(place_group(section));
    for (std::size_t n = 0; n < section.kinds.size(); ++n) groups.push_back(quantity_group(section, n, notes));
    std::string text = "\n  " + section.title + "\n";
    if (!section.rows.empty()) text += laid_out(groups, section.rows.size()) + notes.text();
    for (const std::string& note : section.notes) text += "    " + note + "\n";
    return text;
}

std::string section_explanation(const Section& section) {
    std::istringstream all(section.title + ". " + section.explanation);
    std::string text, line;
    for (std::string word; all >> word;) {
        if (!line.empty() && line.size() + 1 + word.size() > line_length) {
            text += line + "\n";
            line = "  ";
            line += word;
            continue;
        }
        line += (line.empty() ? "" : " ") + word;
    }
    return text + line + "\n";
}

std::string quantities_csv(std::span<const ImageReport> images) {
    std::string text =
        std::string("# ") + caution +
        "\nfile,recipe,section,label,x_mm,depth_mm,quantity,value,low,high,reference,reference_value,ratio,"
        "difference,note\n";
    for (const ImageReport& image : images) {
        for (const Section& section : image.sections) {
            for (const SectionRow& row : section.rows) {
                for (std::size_t k = 0; k < section.kinds.size() && k < row.quantities.size(); ++k) {
                    const QuantityKind& kind = section.kinds[k];
                    const Quantity& quantity = row.quantities[k];
                    const std::string start = csv_word(image.file) + "," + csv_word(image.recipe) + "," + section.key +
                                              "," + csv_word(row.label) + "," + csv_number(row.x_mm) + "," +
                                              csv_number(row.depth_mm) + "," + kind.key + "," +
                                              csv_number(quantity.value) + ",";
                    const auto& range = quantity.confidence;
                    const std::string limits = csv_number(range ? std::optional(range->first) : std::nullopt) + "," +
                                               csv_number(range ? std::optional(range->second) : std::nullopt) + ",";
                    const std::string note =
                        csv_word(quantity.note + (quantity.note.empty() || row.note.empty() ? "" : "; ") + row.note);
                    for (std::size_t t = 0; t < std::max<std::size_t>(1, kind.references.size()); ++t) {
                        const bool known = t < quantity.references.size() && t < kind.references.size();
                        Quantity one = quantity;
                        one.references = {known ? quantity.references[t] : std::nullopt};
                        const auto as = [&](Comparison comparison) {
                            QuantityKind compare = kind;
                            compare.comparison = comparison;
                            const bool wanted = kind.comparison == comparison;
                            return csv_number(wanted ? compared(compare, one) : std::nullopt);
                        };
                        text += start + limits + (known ? kind.references[t] : "") + "," +
                                csv_number(one.references.front()) + "," + as(Comparison::ratio) + "," +
                                as(Comparison::difference) + "," + note + "\n";
                    }
                }
            }
        }
    }
    return text;
}

}  // namespace echoloom
