#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <map>
#include <vector>

#include "recon/compare/comparison_output.h"
#include "sim/base/text.h"

namespace echoloom {

namespace {

constexpr std::size_t max_failures = 40;

std::string number(std::optional<double> value) {
    if (!value || std::isnan(*value)) {
        return "-";
    }
    std::array<char, 48> text{};
    std::snprintf(text.data(), text.size(), "%.5g", *value + 0.0);
    return text.data();
}

std::string signed_number(double value) {
    const std::string text = number(value);
    return value > 0.0 && text != "-" ? "+" + text : text;
}

std::string formatted(const char* format, double value) {
    std::array<char, 64> text{};
    std::snprintf(text.data(), text.size(), format, value);
    return text.data();
}

std::string allowed_text(const Check& check) {
    if (check.min || check.max) {
        return check.min ? "at least " + number(check.min) : "at most " + number(check.max);
    }
    if (check.outcome == Outcome::ignored) {
        return "any";
    }
    return std::isnan(check.allowed) ? "-" : formatted("+-%.3g", check.allowed);
}

std::string outcome_text(const Check& check) {
    switch (check.outcome) {
        case Outcome::ignored:
            return "not judged";
        case Outcome::same:
            return "same";
        case Outcome::better:
            return "BETTER";
        case Outcome::worse:
            return "WORSE";
        case Outcome::different:
            break;
    }
    const bool limited = check.min || check.max;
    if (!limited && check.before.has_value() != check.after.has_value()) {
        return check.before ? "NONE AFTER" : "NONE BEFORE";
    }
    return "DIFFERENT";
}

using Row = std::vector<std::string>;

/// Columns of text to the left, numbers to the right.
std::string aligned(const std::vector<Row>& rows, const std::vector<bool>& left) {
    std::vector<std::size_t> widths(left.size());
    for (const Row& row : rows) {
        for (std::size_t n = 0; n < row.size(); ++n) {
            widths[n] = std::max(widths[n], row[n].size());
        }
    }
    std::string text;
    for (const Row& row : rows) {
        std::string line = " ";
        for (std::size_t n = 0; n < row.size(); ++n) {
            const std::string space(widths[n] - row[n].size(), ' ');
            line += " " + (left[n] ? row[n] + space : space + row[n]) + " ";
        }
        line.erase(line.find_last_not_of(' ') + 1);
        text += line + "\n";
    }
    return text;
}

Row check_row(const Check& check) {
    return {check.name,          number(check.before), number(check.after), signed_number(check.change),
            allowed_text(check), outcome_text(check),  check.where};
}

/// Change over tolerance: above 1 beyond the limit.
double strain(const Check& check) {
    if (check.failed()) {
        return check.allowed > 0.0 ? std::max(1.001, std::abs(check.change) / check.allowed) : 1e9;
    }
    return check.allowed > 0.0 ? std::abs(check.change) / check.allowed : 0.0;
}

/// One row for each name: the check closest to its limit stands for all.
std::vector<Row> summary_rows(const PairComparison& comparison) {
    std::vector<std::string> names;
    std::map<std::string, std::vector<const Check*>> by_name;
    for (const Check& check : comparison.checks) {
        if (check.outcome == Outcome::ignored) {
            continue;
        }
        if (!by_name.contains(check.name)) {
            names.push_back(check.name);
        }
        by_name[check.name].push_back(&check);
    }
    std::vector<Row> rows{{"number", "count", "before", "after", "change", "allowed", "", "where"}};
    for (const std::string& name : names) {
        const auto& checks = by_name[name];
        const Check& worst =
            **std::ranges::max_element(checks, [](const Check* a, const Check* b) { return strain(*a) < strain(*b); });
        const auto failed = std::ranges::count_if(checks, [](const Check* check) { return check->failed(); });
        Row row = check_row(worst);
        std::string count = std::to_string(checks.size());
        if (failed > 0 && checks.size() > 1) {
            count = std::to_string(failed) + " of " + count;
        }
        row.insert(row.begin() + 1, count);
        rows.push_back(std::move(row));
    }
    return rows;
}

std::string summary_table(const PairComparison& comparison) {
    if (comparison.checks.empty()) {
        return "";
    }
    return "\n  Of each number, the one closest to its limit or farthest beyond it\n" +
           aligned(summary_rows(comparison), {true, false, false, false, false, false, true, true});
}

std::string full_table(const PairComparison& comparison, bool every) {
    std::vector<Row> rows{{"number", "before", "after", "change", "allowed", "", "where"}};
    std::size_t left_out = 0;
    std::map<std::string, int> failures;
    for (const Check& check : comparison.checks) {
        failures[check.name] += check.failed() ? 1 : 0;
    }
    for (const Check& check : comparison.checks) {
        // One that the summary already shows needs no second line.
        if (!every && (!check.failed() || failures[check.name] < 2)) {
            continue;
        }
        if (!every && rows.size() > max_failures) {
            ++left_out;
            continue;
        }
        rows.push_back(check_row(check));
    }
    if (rows.size() < 2) {
        return "";
    }
    std::string text = std::string("\n  ") +
                       (every ? "Every number" : "All beyond tolerance, of numbers with several") + "\n" +
                       aligned(rows, {true, false, false, false, false, true, true});
    if (left_out > 0) {
        text += "    ... and " + std::to_string(left_out) + " more; --all shows them\n";
    }
    return text;
}

std::string difference_text(const NamedDifference& samples) {
    const Difference& difference = samples.difference;
    std::string text = "  " + samples.name + ": ";
    if (difference.identical) {
        return text + "every sample is the same, bit by bit\n";
    }
    text += "differs by " + formatted("%.3g", 100.0 * difference.relative_l2) + " % (L2); largest " +
            formatted("%.1f", difference.largest_dB) + " dB against the peak, at " + samples.where +
            (difference.largest > 0.0 ? ", higher after" : ", lower after") + "\n    " + samples.mostly + "; level " +
            formatted("%+.3f", difference.level_dB) + " dB; correlation " + formatted("%.6f", difference.correlation) +
            "\n";
    return samples.as_if.empty() ? text : text + "    " + samples.as_if + "\n";
}

std::string outcomes_text(std::size_t count, const char* outcome) {
    return count == 0 ? "" : std::to_string(count) + " " + outcome;
}

}  // namespace

std::string verdict_sentence(const PairComparison& comparison) {
    std::string text = verdict_word(comparison.verdict);
    if (comparison.verdict == Verdict::identical) {
        return text + ": every sample is the same, bit by bit.";
    }
    const std::size_t judged = comparison.checks.size() - comparison.count(Outcome::ignored);
    std::string beyond;
    const std::pair<Outcome, const char*> kinds[] = {
        {Outcome::worse, "worse"}, {Outcome::better, "better"}, {Outcome::different, "different"}};
    for (const auto& [outcome, word] : kinds) {
        const std::string one = outcomes_text(comparison.count(outcome), word);
        beyond += (beyond.empty() || one.empty() ? "" : ", ") + one;
    }
    if (beyond.empty()) {
        text += comparison.verdict == Verdict::inconclusive
                    ? ": " + comparison.reason
                    : ": " + counted(judged, "number") +
                          (judged == 1 ? " judged, within its tolerance" : " judged, each within its tolerance");
    } else {
        text += ": of " + counted(judged, "number") + " judged, " + beyond;
    }
    text += ".";
    if (comparison.verdict != Verdict::inconclusive && !comparison.reason.empty()) {
        text += " Samples could not be compared: " + comparison.reason + ".";
    }
    return text;
}

std::string comparison_text(std::span<const PairComparison> comparisons, bool every) {
    std::string text;
    for (const PairComparison& comparison : comparisons) {
        text += (text.empty() ? "" : "\n") + verdict_sentence(comparison) + "\n  before  " + comparison.before +
                "\n  after   " + comparison.after + "\n";
        for (const NamedDifference& samples : comparison.differences) {
            text += difference_text(samples);
        }
        for (const std::string& note : comparison.notes) {
            text += "  note: " + note + "\n";
        }
        if (every) {
            text += full_table(comparison, true);
        } else if (comparison.verdict != Verdict::identical) {
            text += summary_table(comparison) + full_table(comparison, false);
        }
    }
    if (comparisons.size() > 1) {
        std::map<Verdict, std::size_t> counts;
        for (const PairComparison& comparison : comparisons) {
            ++counts[comparison.verdict];
        }
        text += "\nAll " + std::to_string(comparisons.size()) + " pairs: " + verdict_word(overall(comparisons)) + " (";
        bool first = true;
        for (const auto& [verdict, count] : counts) {
            text += (first ? "" : ", ") + std::to_string(count) + " " + verdict_word(verdict);
            first = false;
        }
        text += ").\n";
    }
    return text;
}

}  // namespace echoloom
