#include "tools/cli/facts.h"

#include <algorithm>
#include <cmath>
#include <iomanip>
#include <limits>
#include <numbers>
#include <set>
#include <sstream>

#include "recon/image/description.h"
#include "sim/base/settings.h"
#include "sim/base/text.h"

namespace echoloom {

namespace {

using Json = nlohmann::ordered_json;

/// Two decimals of a millimetre are enough for words.
std::string mm(double length_m) {
    return plain(std::round(length_m * 1e5) / 1e2);
}

std::string counted(std::size_t count, const std::string& noun) {
    return std::to_string(count) + ' ' + noun + (count == 1 ? "" : "s");
}

/// JSON has no infinity.
Json number_or_null(double value) {
    return std::isfinite(value) ? Json(value) : Json();
}

void add_probe(Facts& facts, const Probe& probe) {
    const Element& element = probe.elements.front();
    double least = element.center_m.x();
    double most = least;
    for (const Element& other : probe.elements) {
        least = std::min(least, other.center_m.x());
        most = std::max(most, other.center_m.x());
    }
    const bool lens = std::isfinite(probe.elevation_focus_m);
    const std::string baffle = probe.baffle == Baffle::rigid ? "rigid" : "soft";
    facts.add("probe",
              (probe.name.empty() ? "" : probe.name + ": ") + probe.kind + " array of " +
                  counted(probe.elements.size(), "element") + ", " + mm(element.width_m) + " mm wide and " +
                  mm(element.height_m) + " mm high, centres from x = " + mm(least) + " to " + mm(most) + " mm; " +
                  (lens ? "lens at " + mm(probe.elevation_focus_m) + " mm" : "no lens") + "; " + baffle + " baffle",
              {{"probe", probe.name},
               {"probe_kind", probe.kind},
               {"elements", probe.elements.size()},
               {"element_width_m", element.width_m},
               {"element_height_m", element.height_m},
               {"pitch_m", probe.pitch_m > 0.0 ? Json(probe.pitch_m) : Json()},
               {"elevation_focus_m", number_or_null(probe.elevation_focus_m)},
               {"baffle", baffle}});
}

void add_pulse(Facts& facts, const Probe& probe, const Medium& medium) {
    facts.add("pulse",
              plain(probe.center_Hz * 1e-6) + " MHz, " + plain(probe.bandwidth_fraction * 100.0) +
                  " % two-way bandwidth at half amplitude; wavelength " +
                  plain(std::round(probe.wavelength_m(medium.sound_speed_m_s) * 1e6) / 1e3) + " mm",
              {{"center_Hz", probe.center_Hz}, {"bandwidth_fraction", probe.bandwidth_fraction}});
}

std::string event_words(const RecordingInfo& info) {
    switch (info.events.front().kind) {
        case TransmitKind::focused:
            return "focused along lines";
        case TransmitKind::plane:
            return "plane waves";
        case TransmitKind::element:
            return "single elements, one at a time";
        case TransmitKind::diverging:
            return "diverging waves";
    }
    return "";
}

std::string focus_words(const RecordingInfo& info) {
    const TransmitEvent& middle = info.events[info.events.size() / 2];
    const auto sending = std::ranges::count_if(middle.weight, [](double weight) { return weight != 0.0; });
    std::string words = ", " + counted(static_cast<std::size_t>(sending), "element") + " sending in the middle event";
    if (middle.focus_m.allFinite()) {
        words += ", focus " + mm((middle.focus_m - middle.origin_m).norm()) + " mm from the array";
    }
    const auto tilt = [](const TransmitEvent& event) {
        return std::atan2(event.direction.x(), event.direction.z()) * 180.0 / std::numbers::pi;
    };
    const auto [least, most] = std::ranges::minmax_element(info.events, {}, tilt);
    const double from = std::round(tilt(*least) * 100.0) / 100.0;
    const double to = std::round(tilt(*most) * 100.0) / 100.0;
    if (from != 0.0 || to != 0.0) {
        words += from == to ? ", tilted by " + plain(from) + " degrees"
                            : ", from " + plain(from) + " to " + plain(to) + " degrees";
    }
    return words;
}

void add_events(Facts& facts, const RecordingInfo& info) {
    std::set<int> lines;
    for (const TransmitEvent& event : info.events) {
        lines.insert(event.line);
    }
    const std::string kind = event_words(info);
    facts.add("events",
              std::to_string(info.events.size()) + ", " + kind + focus_words(info) +
                  (lines.size() < info.events.size() ? "; " + counted(lines.size(), "line") : ""),
              {{"events", info.events.size()}, {"event_kind", kind}, {"lines", lines.size()}});
}

/// The deepest place whose echo, straight back, falls into every event's samples.
double deepest_m(const RecordingInfo& info) {
    double last_s = std::numeric_limits<double>::infinity();
    for (const TransmitEvent& event : info.events) {
        last_s = std::min(last_s, event.start_time_s + static_cast<double>(info.samples - 1) / info.sampling_rate_Hz);
    }
    return std::max(last_s, 0.0) * info.medium.sound_speed_m_s / 2.0;
}

void add_sampling(Facts& facts, const RecordingInfo& info) {
    const double bytes = 4.0 * static_cast<double>(info.events.size() * info.channels * info.samples);
    facts.add("samples",
              std::to_string(info.channels) + " channels by " + std::to_string(info.samples) + " samples an event at " +
                  plain(info.sampling_rate_Hz * 1e-6) + " MHz, " + human_bytes(bytes),
              {{"channels", info.channels}, {"samples", info.samples}, {"sampling_rate_Hz", info.sampling_rate_Hz}});

    double first_s = std::numeric_limits<double>::infinity();
    for (const TransmitEvent& event : info.events) {
        first_s = std::min(first_s, event.start_time_s);
    }
    const double speed = info.medium.sound_speed_m_s;
    const double least = std::max(first_s, 0.0) * speed / 2.0;
    const double most = deepest_m(info);
    facts.add("depth", mm(least) + " to " + mm(most) + " mm by the time of echoes straight back",
              {{"least_depth_m", least}, {"most_depth_m", most}});
    const double rate = speed / (2.0 * most * static_cast<double>(info.events.size()));
    facts.add("frame rate",
              "at most " + plain(std::round(rate * 100.0) / 100.0) + " per second: " +
                  counted(info.events.size(), "round trip") + " of " + mm(most) + " mm, c / (2 depth events)",
              {{"most_frames_per_s", number_or_null(rate)}});
}

void add_medium(Facts& facts, const Medium& medium) {
    std::string words = plain(medium.sound_speed_m_s) + " m/s, ";
    words +=
        medium.attenuation_dB_cm_MHz == 0.0
            ? "no attenuation"
            : "attenuation " + plain(medium.attenuation_dB_cm_MHz) + " dB/cm at 1 MHz, " +
                  (medium.attenuation_power == 1.0 ? std::string("in proportion to frequency")
                                                   : "as frequency to the power " + plain(medium.attenuation_power));
    words += medium.dispersive ? ", dispersive" : "";
    facts.add("medium", words,
              {{"sound_speed_m_s", medium.sound_speed_m_s},
               {"attenuation_dB_cm_MHz", medium.attenuation_dB_cm_MHz},
               {"attenuation_power", medium.attenuation_power},
               {"dispersive", medium.dispersive}});
}

void add_truth(Facts& facts, const Truth& truth) {
    const auto inclusions = std::ranges::count_if(truth.regions, &TrueRegion::inclusion);
    facts.add("truth",
              truth.points.empty() && truth.regions.empty()
                  ? "none: measurements have nothing to aim at"
                  : counted(truth.points.size(), "point") + ", " + counted(truth.regions.size(), "region") + " (" +
                        counted(static_cast<std::size_t>(inclusions), "inclusion") + ")",
              {{"true_points", truth.points.size()}, {"true_regions", truth.regions.size()}});
}

/// A text kept in a recording, with what the command line changed in it.
Settings kept_settings(const std::string& text) {
    const std::string mark = "# set on the command line: ";
    std::vector<Override> changes;
    std::istringstream lines(text);
    for (std::string line; std::getline(lines, line);) {
        const std::size_t equals = line.find(" = ");
        if (line.starts_with(mark) && equals != std::string::npos) {
            changes.push_back({line.substr(mark.size(), equals - mark.size()), line.substr(equals + 3)});
        }
    }
    return Settings::from_text(text, "/source/scan", changes);
}

/// Noise is no part of a recording's geometry; only the scan's own text knows.
void add_source(Facts& facts, const RecordingSource& source) {
    if (source.phantom.empty()) {
        facts.add("source", "no phantom inside: off a bench", {{"simulated", false}});
        return;
    }
    Settings scan = kept_settings(source.scan);
    const auto snr_dB = scan.number_if("noise_snr_dB");
    const auto bits = scan.number_if("quantization_bits");
    facts.add("noise",
              (snr_dB ? "echoes " + plain(*snr_dB) + " dB above it" : std::string("none")) +
                  (bits ? "; samples rounded to " + plain(*bits) + " bits" : ""),
              {{"noise_snr_dB", snr_dB ? Json(*snr_dB) : Json()}, {"quantization_bits", bits ? Json(*bits) : Json()}});
    facts.add("source", "simulated; texts of phantom, probe and scan inside; seed " + std::to_string(source.seed),
              {{"simulated", true}, {"seed", source.seed}});
}

void add_origin(Facts& facts, const RecordingInfo& info) {
    if (!info.content_digest.empty()) {  // a recording off a bench may carry none
        facts.add("digest", info.content_digest, {{"content_digest", info.content_digest}});
    }
    facts.add("written by", info.program_version.empty() ? "unknown" : "version " + info.program_version,
              {{"program_version", info.program_version}});
}

/// Captions keep a number and its unit on one line by a no-break space; a terminal need not.
std::string plain_spaces(std::string words) {
    const std::string no_break = "\u00a0";
    for (std::size_t place = 0; (place = words.find(no_break, place)) != std::string::npos;) {
        words.replace(place, no_break.size(), " ");
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
               {"least_depth_m", depths.front()},
               {"most_depth_m", depths.back()}});
}

}  // namespace

void Facts::add(const std::string& label, const std::string& words, const Json& numbers) {
    lines_.emplace_back(label, plain_spaces(words));
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
    Facts facts(file + ": a recording, the echoes heard by single elements");
    add_probe(facts, info.probe);
    add_pulse(facts, info.probe, info.medium);
    add_events(facts, info);
    add_sampling(facts, info);
    add_medium(facts, info.medium);
    add_truth(facts, info.truth);
    add_source(facts, info.source);
    add_origin(facts, info);
    return facts;
}

Facts image_facts(const std::string& file, const Image& image) {
    Facts facts(file + ": an image" + (image.recipe.title.empty() ? "" : ", \"" + image.recipe.title + '"'));
    add_grid(facts, image);
    facts.add("recipe", image.recipe.name + ": " + describe_recipe(image),
              {{"recipe", image.recipe.name}, {"assumed_sound_speed_m_s", image.sound_speed_m_s}});
    const double peak = image.envelope.empty() ? 0.0 : *std::ranges::max_element(image.envelope);
    facts.add("picture", plain(image.recipe.dynamic_range_dB) + " dB below the peak envelope " + plain(peak),
              {{"dynamic_range_dB", image.recipe.dynamic_range_dB},
               {"peak_envelope", peak},
               {"keeps_rf", !image.real.empty()}});
    facts.add("formed from", describe_recording(image.recording));
    add_medium(facts, image.recording.medium);
    add_truth(facts, image.recording.truth);
    add_source(facts, image.recording.source);
    add_origin(facts, image.recording);
    return facts;
}

}  // namespace echoloom
