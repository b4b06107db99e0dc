#include "tools/cli/facts.h"

#include <algorithm>
#include <cmath>
#include <iomanip>
#include <sstream>

#include "recon/image/description.h"
#include "recon/image/scan_captions.h"
#include "sim/base/kept_settings.h"
#include "sim/base/text.h"
#include "tools/cli/scan_facts.h"

namespace echoloom {

namespace {

using Json = nlohmann::ordered_json;

/// Two decimals of a millimetre are enough for words.
std::string mm(double length_m) {
    return plain(std::round(length_m * 1e5) / 1e2);
}

void add_truth(Facts& facts, const Truth& truth) {
    const auto inclusions = std::ranges::count_if(truth.regions, &TrueRegion::inclusion);
    facts.add("truth",
              truth.points.empty() && truth.regions.empty()
                  ? "none: contains no points or regions to measure"
                  : counted(truth.points.size(), "point") + ", " + counted(truth.regions.size(), "region") + " (" +
                        counted(static_cast<std::size_t>(inclusions), "inclusion") + ")",
              {{"true_points", truth.points.size()}, {"true_regions", truth.regions.size()}});
}

/// Noise is no part of a recording's geometry; only the scan's own text has it.
void add_source(Facts& facts, const RecordingSource& source) {
    if (source.phantom.empty()) {
        facts.add("source", "acquired data: no phantom inside", {{"simulated", false}});
        return;
    }
    Settings scan = kept_settings(source.scan, "/source/scan");
    const auto snr_dB = scan.number_if("noise_snr_dB");
    const auto bits = scan.number_if("quantization_bits");
    facts.add("noise",
              (snr_dB ? "echoes " + plain(*snr_dB) + " dB above it" : std::string("none")) +
                  (bits ? "; samples rounded to " + counted(static_cast<std::size_t>(*bits), "bit") : ""),
              {{"noise_snr_dB", snr_dB ? Json(*snr_dB) : Json()}, {"quantization_bits", bits ? Json(*bits) : Json()}});
    facts.add("source", "simulated; texts of phantom, probe and scan inside; seed " + std::to_string(source.seed),
              {{"simulated", true}, {"seed", source.seed}});
}

void add_origin(Facts& facts, const RecordingInfo& info) {
    if (!info.content_digest.empty()) {  // acquired data may carry none
        facts.add("digest", info.content_digest, {{"content_digest", info.content_digest}});
    }
    facts.add("written by", info.program_version.empty() ? "unknown" : "version " + info.program_version,
              {{"program_version", info.program_version}});
}

/// Captions keep a number and its unit on one line by a no-break space, and have signs that a terminal may lack.
std::string for_terminal(std::string words) {
    const std::pair<std::string, std::string> signs[] = {
        {no_break, " "}, {"\u00b1", "+-"}, {"\u00b0", " degrees"}, {"\u2212", "-"}, {"\u00d7", "x"}};
    for (const auto& [sign, plain_sign] : signs) {
        for (std::size_t place = 0; (place = words.find(sign, place)) != std::string::npos;) {
            words.replace(place, sign.size(), plain_sign);
        }
    }
    return words;
}

std::string step_words(std::size_t count, double first_m, double last_m) {
    std::string words = mm(first_m) + " to " + mm(last_m) + " mm";
    if (count > 1) {
        words += " in steps of " + plain((last_m - first_m) / static_cast<double>(count - 1) * 1e3) + " mm";
    }
    return words;
}

void add_grid(Facts& facts, const Image& image) {
    const bool lines = std::holds_alternative<LineGrid>(image.grid);
    const std::vector<double>& depths = std::visit(
        [](const auto& grid) -> auto& { return grid.depth_m; }, image.grid);
    std::string words = counted(image.columns, lines ? "line" : "column");
    if (const auto* cartesian = std::get_if<CartesianGrid>(&image.grid)) {
        words += ", x from " + step_words(image.columns, cartesian->x_m.front(), cartesian->x_m.back());
    } else {
        const auto& origins = std::get<LineGrid>(image.grid).origin_m;
        words += ", leaving the array from x = " + step_words(image.columns, origins.front().x(), origins.back().x());
    }
    facts.add("grid",
              words + "; " + counted(image.depths, "depth") + " from " +
                  step_words(image.depths, depths.front(), depths.back()),
              {{"grid", lines ? "lines" : "cartesian"},
               {"columns", image.columns},
               {"depths", image.depths},
               {"min_depth_m", depths.front()},
               {"max_depth_m", depths.back()}});
}

}  // namespace

void add_medium(Facts& facts, const Medium& medium) {
    std::string words = plain(medium.sound_speed_m_s) + " m/s, ";
    words += medium.attenuation_dB_cm_MHz == 0.0
                 ? "no attenuation"
                 : "attenuation " + plain(medium.attenuation_dB_cm_MHz) + " dB/cm at 1 MHz, " +
                       (medium.attenuation_exponent == 1.0
                            ? std::string("in proportion to frequency")
                            : "as frequency to the power " + plain(medium.attenuation_exponent));
    words += medium.dispersive ? ", dispersive" : "";
    facts.add("medium", words,
              {{"sound_speed_m_s", medium.sound_speed_m_s},
               {"attenuation_dB_cm_MHz", medium.attenuation_dB_cm_MHz},
               {"attenuation_exponent", medium.attenuation_exponent},
               {"dispersive", medium.dispersive}});
}

void Facts::add(const std::string& label, const std::string& words, const Json& numbers) {
    lines_.emplace_back(label, for_terminal(words));
    numbers_.update(numbers);
}

std::string Facts::in_words() const {
    constexpr int column = 13;
    std::ostringstream text;
    text << headline_ << '\n' << std::left;
    for (const auto& [label, words] : lines_) {
        text << "  " << std::setw(column) << label << words << '\n';
    }
    return text.str();
}

std::string Facts::in_json() const {
    return numbers_.dump(2) + '\n';
}

Facts recording_facts(const std::string& file, const RecordingInfo& info) {
    Facts facts(file + ": a recording, the echoes received by single elements");
    add_array_and_scan(facts, info);
    add_medium(facts, info.medium);
    add_truth(facts, info.truth);
    add_source(facts, info.source);
    add_origin(facts, info);
    return facts;
}

Facts scan_facts(const std::string& name, const Scan& scan, const Probe& probe) {
    Facts facts(name + ": a scan, the transmit events of one picture");
    add_array_and_scan(facts, planned_recording(probe, scan));
    return facts;
}

Facts probe_facts(const std::string& name, const Probe& probe) {
    Facts facts(name + ": a probe");
    add_array(facts, probe, {});
    return facts;
}

Facts image_facts(const std::string& file, const Image& image) {
    Facts facts(file + ": an image" + (image.recipe.title.empty() ? "" : ", \"" + image.recipe.title + '"'));
    add_grid(facts, image);
    facts.add("recipe", image.recipe.name + ": " + describe_recipe(image),
              {{"recipe", image.recipe.name}, {"assumed_sound_speed_m_s", image.sound_speed_m_s}});
    const double peak = image.envelope.empty() ? 0.0 : *std::ranges::max_element(image.envelope);
    facts.add("picture",
              plain(image.recipe.dynamic_range_dB) + " dB below the peak envelope, " + plain(peak) + " (relative)",
              {{"dynamic_range_dB", image.recipe.dynamic_range_dB},
               {"peak_envelope", peak},
               {"keeps_rf", !image.real.empty()}});
    facts.add("formed from", describe_probe(image.recording.probe) + "; " + describe_scan(image.recording));
    add_timing(facts, image.recording);
    add_medium(facts, image.recording.medium);
    add_truth(facts, image.recording.truth);
    add_source(facts, image.recording.source);
    add_origin(facts, image.recording);
    return facts;
}

}  // namespace echoloom
