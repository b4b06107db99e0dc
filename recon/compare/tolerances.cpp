#include "recon/compare/tolerances.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <iterator>

#include "sim/base/home.h"
#include "sim/base/settings.h"
#include "sim/base/text.h"

namespace echoloom {

namespace {

const std::string other = "other";

Better read_better(Settings& entry) {
    constexpr std::array<std::string_view, 4> values{"neither", "lower", "higher", "nearer zero"};
    const std::string word = entry.one_of_or("better", values[0], values);
    return static_cast<Better>(std::ranges::find(values, word) - values.begin());
}

Tolerance read_entry(Settings& entry) {
    Tolerance tolerance;
    tolerance.name = entry.text("name");
    tolerance.ignore = entry.flag_or("ignore", false);
    tolerance.absolute = entry.number_if("absolute", between(0.0, no_limit));
    if (const auto percent = entry.number_if("relative_percent", between(0.0, 1000.0))) {
        tolerance.relative = *percent / 100.0;
    }
    tolerance.disturbance_dB = entry.number_if("disturbance_dB", between(-400.0, 0.0));
    tolerance.min = entry.number_if("min");
    tolerance.max = entry.number_if("max");
    tolerance.better = read_better(entry);
    const bool bounded = tolerance.absolute || tolerance.relative || tolerance.disturbance_dB || tolerance.min ||
                         tolerance.max || tolerance.ignore;
    if (!bounded) {
        entry.finish();  // a misspelt key is the better message
        entry.fail("name", "'" + tolerance.name +
                               "' has no tolerance; write absolute, relative_percent, disturbance_dB, min, "
                               "max, or ignore = true");
    }
    return tolerance;
}

std::vector<std::string> names_of(const std::vector<Tolerance>& entries) {
    std::vector<std::string> names;
    std::ranges::transform(entries, std::back_inserter(names), &Tolerance::name);
    return names;
}

/// `must_be_known`: a name that is not in the list is a typing error.
void read_file(const std::filesystem::path& file, std::vector<Tolerance>& entries, bool must_be_known) {
    Settings settings = Settings::from_file(file);
    for (Settings& entry : settings.tables("metric")) {
        const Tolerance tolerance = read_entry(entry);
        const auto known = std::ranges::find(entries, tolerance.name, &Tolerance::name);
        if (known != entries.end()) {
            *known = tolerance;
        } else if (must_be_known) {
            entry.fail("name",
                       "unknown metric '" + tolerance.name + "'; " + suggestion(tolerance.name, names_of(entries)));
        } else {
            entries.push_back(tolerance);
        }
    }
    settings.finish();
}

}  // namespace

double Tolerance::allowed(double before) const {
    double max_change = std::max(absolute.value_or(0.0), relative.value_or(0.0) * std::abs(before));
    if (disturbance_dB) {
        max_change = std::max(max_change, 20.0 * std::log10(1.0 + std::pow(10.0, (*disturbance_dB - before) / 20.0)));
    }
    return max_change;
}

Tolerances Tolerances::load(const std::optional<std::filesystem::path>& file) {
    Tolerances tolerances;
    read_file(home_folder() / "recon" / "compare" / "tolerances.toml", tolerances.entries_, false);
    if (std::ranges::find(tolerances.entries_, other, &Tolerance::name) == tolerances.entries_.end()) {
        throw InputError("the shipped tolerances have no entry named 'other'; " + home_remedy());
    }
    if (file) {
        read_file(*file, tolerances.entries_, true);
    }
    return tolerances;
}

const Tolerance& Tolerances::of(const std::string& name) const {
    const auto known = std::ranges::find(entries_, name, &Tolerance::name);
    return known != entries_.end() ? *known : *std::ranges::find(entries_, other, &Tolerance::name);
}

}  // namespace echoloom
