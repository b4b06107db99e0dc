// The same for programs: JSON, and the XML that build servers read.

#include <cmath>
#include <nlohmann/json.hpp>

#include "recon/compare/comparison_output.h"
#include "recon/measure/report.h"
#include "sim/base/text.h"

namespace echoloom {

namespace {

using Json = nlohmann::ordered_json;

Json number(std::optional<double> value) {
    return value && std::isfinite(*value) ? Json(*value) : Json(nullptr);
}

const char* key_of(Verdict verdict) {
    constexpr const char* keys[] = {"identical", "same", "better", "worse", "different", "inconclusive"};
    return keys[static_cast<std::size_t>(verdict)];
}

const char* key_of(Outcome outcome) {
    constexpr const char* keys[] = {"not_judged", "same", "better", "worse", "different"};
    return keys[static_cast<std::size_t>(outcome)];
}

Json difference_json(const NamedDifference& samples) {
    const Difference& difference = samples.difference;
    return {{"name", samples.name},
            {"identical", difference.identical},
            {"relative_l2", number(difference.relative_l2)},
            {"largest_dB", number(difference.largest_dB)},
            {"largest_signed", number(difference.largest)},
            {"largest_at", samples.where},
            {"largest_row_index", difference.largest_row},
            {"largest_sample_index", difference.largest_sample},
            {"peak_before", number(difference.peak)},
            {"amplitude_unit", "relative"},
            {"level_dB", number(difference.level_dB)},
            {"correlation", number(difference.correlation)},
            {"row_indices_of_80_percent", {difference.rows.from, difference.rows.to}},
            {"sample_indices_of_80_percent", {difference.samples.from, difference.samples.to}},
            {"fit_gain", number(difference.fit.gain)},
            {"fit_shift_samples", number(difference.fit.samples)},
            {"fit_shift_rows", number(difference.fit.rows)},
            {"fit_explained_fraction", number(difference.fit.explained)}};
}

Json check_json(const Check& check) {
    Json json = {{"name", check.name},           {"where", check.where},           {"before", number(check.before)},
                 {"after", number(check.after)}, {"change", number(check.change)}, {"allowed", number(check.allowed)}};
    if (check.min) json["min"] = *check.min;
    if (check.max) json["max"] = *check.max;
    json["outcome"] = key_of(check.outcome);
    return json;
}

std::string xml(std::string_view text) {
    std::string result;
    for (const char c : text) {
        switch (c) {
            case '&':
                result += "&amp;";
                break;
            case '<':
                result += "&lt;";
                break;
            case '>':
                result += "&gt;";
                break;
            case '"':
                result += "&quot;";
                break;
            default:
                // XML 1.0 has no other control characters.
                result += static_cast<unsigned char>(c) < 0x20 && c != '\n' && c != '\t' ? '?' : c;
        }
    }
    return result;
}

std::string change_text(const Check& check) {
    const auto text_of = [](std::optional<double> value) { return value ? plain(*value) : std::string("none"); };
    if (check.min) return text_of(check.after) + ", must be at least " + plain(*check.min);
    if (check.max) return text_of(check.after) + ", must be at most " + plain(*check.max);
    std::string text = text_of(check.before) + " before, " + text_of(check.after) + " after";
    if (!std::isnan(check.allowed)) text += ", may change by " + plain(check.allowed);
    return text;
}

std::string case_xml(const std::string& suite, const std::string& name, const std::string& inside) {
    const std::string start = "    <testcase classname=\"" + xml(suite) + "\" name=\"" + xml(name) + "\"";
    return start + (inside.empty() ? "/>\n" : ">\n" + inside + "    </testcase>\n");
}

std::string suite_xml(const PairComparison& comparison) {
    std::string cases;
    std::size_t failures = 0, skipped = 0, errors = 0;
    const std::string& suite = comparison.after;
    for (const Check& check : comparison.checks) {
        const std::string name = check.name + (check.where.empty() ? "" : " at " + check.where);
        std::string inside;
        if (check.failed()) {
            ++failures;
            inside = "      <failure type=\"" + std::string(key_of(check.outcome)) + "\" message=\"" +
                     xml(change_text(check)) + "\"/>\n";
        } else if (check.outcome == Outcome::ignored) {
            ++skipped;
            inside = "      <skipped/>\n";
        }
        cases += case_xml(suite, name, inside);
    }
    if (!comparison.reason.empty()) {
        ++errors;
        cases += case_xml(suite, "comparable",
                          "      <error type=\"inconclusive\" message=\"" + xml(comparison.reason) + "\"/>\n");
    }
    const std::size_t tests = comparison.checks.size() + errors;
    return "  <testsuite name=\"" + xml(suite) + "\" tests=\"" + std::to_string(tests) + "\" failures=\"" +
           std::to_string(failures) + "\" errors=\"" + std::to_string(errors) + "\" skipped=\"" +
           std::to_string(skipped) + "\">\n" + cases + "    <system-out>" + xml(verdict_sentence(comparison)) +
           "</system-out>\n  </testsuite>\n";
}

}  // namespace

std::string comparison_json(std::span<const PairComparison> comparisons) {
    Json root;
    root["format"] = "echoloom comparison";
    root["format_version"] = 1;
    root["caution"] = caution;
    root["verdict"] = key_of(overall(comparisons));
    root["pairs"] = Json::array();
    for (const PairComparison& comparison : comparisons) {
        Json pair = {{"before", comparison.before},
                     {"after", comparison.after},
                     {"kind", comparison.kind},
                     {"verdict", key_of(comparison.verdict)},
                     {"summary", verdict_sentence(comparison)}};
        if (!comparison.reason.empty()) pair["reason"] = comparison.reason;
        pair["notes"] = comparison.notes;
        pair["samples"] = Json::array();
        for (const NamedDifference& samples : comparison.differences) {
            pair["samples"].push_back(difference_json(samples));
        }
        pair["numbers"] = Json::array();
        for (const Check& check : comparison.checks) {
            pair["numbers"].push_back(check_json(check));
        }
        root["pairs"].push_back(std::move(pair));
    }
    return root.dump(2) + "\n";
}

std::string comparison_junit(std::span<const PairComparison> comparisons) {
    std::string text = "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<testsuites name=\"echoloom compare\">\n";
    for (const PairComparison& comparison : comparisons) {
        text += suite_xml(comparison);
    }
    return text + "</testsuites>\n";
}

}  // namespace echoloom
