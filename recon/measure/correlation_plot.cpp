#include <algorithm>
#include <cmath>
#include <numbers>

#include "recon/measure/correlation.h"
#include "recon/measure/csv.h"
#include "recon/measure/plot_files.h"
#include "sim/base/atomic_file.h"
#include "sim/base/error.h"
#include "sim/base/text.h"

namespace echoloom {
namespace {

constexpr std::size_t max_curves = 8;

/// Targets with something to show; of many, a few spread over their order.
std::vector<const TargetCorrelation*> chosen(const CorrelationReport& image) {
    std::vector<const TargetCorrelation*> all;
    for (const TargetCorrelation& target : image.targets) {
        if (target.pulses.size() > 1) all.push_back(&target);
    }
    if (all.size() <= max_curves) return all;
    std::vector<const TargetCorrelation*> some;
    for (std::size_t n = 0; n < max_curves; ++n) some.push_back(all[n * (all.size() - 1) / (max_curves - 1)]);
    return some;
}

std::string name_of(const TargetCorrelation& target) {
    return plain(std::round(target.true_m.z() * 1e4) * 0.1) + " mm deep, x " +
           plain(std::round(target.true_m.x() * 1e4) * 0.1) + " mm";
}

}  // namespace

std::filesystem::path plot_correlation(const CorrelationReport& image, const std::filesystem::path& folder,
                                       const std::string& name) {
    const auto targets = chosen(image);
    if (targets.empty()) throw InputError("nothing to plot: no target has a later line besides its own");
    const PlotFiles files{folder, name};
    std::vector<std::string> names;
    std::string csv;
    std::size_t longest = 0;
    double lowest = 0.0;
    for (const TargetCorrelation* target : targets) {
        names.push_back(name_of(*target));
        for (const char* column : {": angle_deg", ": beam_widths", ": correlation"}) {
            csv.append(csv.empty() ? "" : ",").append(csv_word(names.back() + column));
        }
        longest = std::max(longest, target->pulses.size());
    }
    csv += "\n";
    for (std::size_t n = 0; n < longest; ++n) {
        for (std::size_t c = 0; c < targets.size(); ++c) {
            csv += c > 0 ? "," : "";
            if (n >= targets[c]->pulses.size()) {
                csv += ",,";
                continue;
            }
            const LaterPulse& pulse = targets[c]->pulses[n];
            lowest = std::min(lowest, pulse.correlation);
            csv += csv_number(pulse.angle_rad * 180.0 / std::numbers::pi) + "," + csv_number(pulse.beam_widths) + "," +
                   csv_number(pulse.correlation);
        }
        csv += "\n";
    }
    write_file(files.file(".csv"), csv);
    const std::string title = "Correlation of later pulses with the one through a target: " + image.label;
    // Down to 0, or to the quarter below the lowest value.
    const std::string axis = "min_y = " + csv_number(0.25 * std::floor(4.0 * lowest) - 0.05) + "\n";
    write_script(files, script_words(names, title, image.provenance) + axis, "correlation.gp");
    return draw(files);
}

}  // namespace echoloom
