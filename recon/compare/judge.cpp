#include <algorithm>
#include <cmath>
#include <limits>
#include <map>

#include "recon/compare/comparison.h"

namespace echoloom {

namespace {

constexpr double nothing = std::numeric_limits<double>::quiet_NaN();

Outcome direction(Better better, double before, double after) {
    const bool lower = after < before;
    switch (better) {
        case Better::lower:
            return lower ? Outcome::better : Outcome::worse;
        case Better::higher:
            return lower ? Outcome::worse : Outcome::better;
        case Better::nearer_zero:
            return std::abs(after) < std::abs(before) ? Outcome::better : Outcome::worse;
        case Better::none:
            break;
    }
    return Outcome::different;
}

Check judge_one(const Metric& metric, std::optional<double> before, std::optional<double> after,
                const Tolerance& tolerance) {
    Check check{metric.name, metric.where, before, after, nothing, nothing, {}, {}, Outcome::same};
    if (before && after) {
        const bool equal = *before == *after || (std::isnan(*before) && std::isnan(*after));
        check.change = equal ? 0.0 : *after - *before;
        check.allowed = std::isfinite(*before) ? tolerance.allowed(*before) : 0.0;
        const bool within = std::abs(check.change) <= check.allowed;
        check.outcome = within ? Outcome::same : direction(tolerance.better, *before, *after);
    } else {
        check.outcome = Outcome::different;
    }
    if (tolerance.ignore) {
        check.outcome = Outcome::ignored;
    }
    return check;
}

}  // namespace

std::string verdict_word(Verdict verdict) {
    switch (verdict) {
        case Verdict::identical:
            return "IDENTICAL";
        case Verdict::same:
            return "SAME WITHIN TOLERANCE";
        case Verdict::better:
            return "BETTER";
        case Verdict::worse:
            return "WORSE";
        case Verdict::different:
            return "DIFFERENT";
        case Verdict::inconclusive:
            break;
    }
    return "INCONCLUSIVE";
}

bool passes(Verdict verdict) {
    return verdict == Verdict::identical || verdict == Verdict::same;
}

std::size_t PairComparison::count(Outcome outcome) const {
    return static_cast<std::size_t>(std::ranges::count(checks, outcome, &Check::outcome));
}

std::vector<Check> judge(std::span<const Metric> before, std::span<const Metric> after, const Tolerances& tolerances) {
    using Key = std::pair<std::string, std::string>;
    std::map<Key, std::optional<double>> later;
    for (const Metric& metric : after) {
        later[{metric.name, metric.where}] = metric.value;
    }
    std::vector<Check> checks;
    for (const Metric& metric : before) {
        const auto match = later.find({metric.name, metric.where});
        const auto value = match != later.end() ? match->second : std::nullopt;
        if (metric.value || value) {
            checks.push_back(judge_one(metric, metric.value, value, tolerances.of(metric.name)));
        }
        if (match != later.end()) {
            later.erase(match);
        }
    }
    for (const Metric& metric : after) {
        if (metric.value && later.contains({metric.name, metric.where})) {
            checks.push_back(judge_one(metric, std::nullopt, metric.value, tolerances.of(metric.name)));
        }
    }
    return checks;
}

Check judge_limit(const std::string& name, const std::string& where, double value, const Tolerances& tolerances) {
    const Tolerance& tolerance = tolerances.of(name);
    Check check{name, where, std::nullopt, value, nothing, nothing, tolerance.min, tolerance.max, Outcome::same};
    const bool within =
        !(tolerance.min && !(value >= *tolerance.min)) && !(tolerance.max && !(value <= *tolerance.max));
    check.outcome = tolerance.ignore ? Outcome::ignored : within ? Outcome::same : Outcome::different;
    return check;
}

Verdict verdict_of(const PairComparison& comparison) {
    const bool better = comparison.count(Outcome::better) > 0;
    const bool worse = comparison.count(Outcome::worse) > 0;
    if (better || worse) {
        return better && worse ? Verdict::different : better ? Verdict::better : Verdict::worse;
    }
    if (comparison.count(Outcome::different) > 0) {
        return Verdict::different;
    }
    if (!comparison.reason.empty()) {
        return Verdict::inconclusive;
    }
    const bool identical = std::ranges::all_of(
        comparison.differences, [](const NamedDifference& samples) { return samples.difference.identical; });
    return identical && !comparison.differences.empty() ? Verdict::identical : Verdict::same;
}

Verdict overall(std::span<const PairComparison> comparisons) {
    bool identical = true;
    bool inconclusive = comparisons.empty();
    bool better = false, worse = false, different = false;
    for (const PairComparison& comparison : comparisons) {
        identical = identical && comparison.verdict == Verdict::identical;
        inconclusive = inconclusive || comparison.verdict == Verdict::inconclusive;
        better = better || comparison.verdict == Verdict::better;
        worse = worse || comparison.verdict == Verdict::worse;
        different = different || comparison.verdict == Verdict::different;
    }
    if (different || (better && worse)) {
        return Verdict::different;
    }
    if (better || worse) {
        return better ? Verdict::better : Verdict::worse;
    }
    return inconclusive ? Verdict::inconclusive : identical ? Verdict::identical : Verdict::same;
}

}  // namespace echoloom
