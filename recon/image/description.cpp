#include "recon/image/description.h"

#include <algorithm>
#include <cctype>
#include <cmath>

#include "sim/base/text.h"

namespace echoloom {

namespace {

const std::string no_break = "\u00a0";  ///< a space at which no line ends: a number keeps its unit

std::string in_mm(double length_m) {
    return plain(std::round(length_m * 1e5) / 1e2) + no_break + "mm";
}

/// The focus all events share, where there is one; steered lines share their focal range, not its depth.
std::string transmit_focus(const std::vector<TransmitEvent>& events) {
    const auto range = [](const TransmitEvent& event) { return (event.focus_m - event.origin_m).norm(); };
    const double first = range(events.front());
    const bool common =
        std::ranges::all_of(events, [&](const TransmitEvent& event) { return std::abs(range(event) - first) < 1e-5; });
    return common ? ", transmit focus " + in_mm(first) : "";
}

std::string describe_events(const std::vector<TransmitEvent>& events) {
    if (events.empty()) {
        return "";
    }
    const std::string count = std::to_string(events.size());
    const std::string plural = events.size() == 1 ? "" : "s";
    switch (events.front().kind) {
        case TransmitKind::focused:
            return count + " focused line" + plural + transmit_focus(events);
        case TransmitKind::plane:
            return count + " plane wave" + plural;
        case TransmitKind::diverging:
            return count + " diverging wave" + plural;
        case TransmitKind::element:
            break;
    }
    return count + " single-element transmission" + plural;
}

std::string describe_focus(const Recipe& recipe) {
    if (recipe.focus == FocusMode::dynamic) {
        return "dynamic receive focus";
    }
    if (recipe.focus == FocusMode::fixed && !recipe.focus_depths_m.empty()) {
        return "receive focus fixed at " + in_mm(recipe.focus_depths_m.front());
    }
    return "receive focus in " + std::to_string(recipe.focus_depths_m.size()) + " zones";
}

/// "Hann", "Dolph-Chebyshev": windows named after people as they are written.
std::string describe_window(WindowKind kind) {
    std::string words(window_name(kind));
    std::ranges::replace(words, '_', '-');
    if (kind == WindowKind::rectangular || kind == WindowKind::triangle || kind == WindowKind::cosine) {
        return words;
    }
    bool first = true;
    for (char& letter : words) {
        letter = first ? static_cast<char>(std::toupper(static_cast<unsigned char>(letter))) : letter;
        first = letter == '-';
    }
    return words;
}

std::string describe_aperture(const Recipe& recipe) {
    std::string words = recipe.aperture == ApertureMode::growing ? "aperture growing at F/" + plain(recipe.f_number)
                                                                 : std::string("constant aperture");
    if (recipe.most_elements) {
        words += recipe.aperture == ApertureMode::growing ? " up to " : " of ";
        words += std::to_string(*recipe.most_elements) + " elements";
    }
    return words;
}

}  // namespace

std::string describe_recording(const RecordingInfo& info) {
    const std::string name = info.probe.name.empty() ? "Probe" : "Probe " + info.probe.name;
    const std::string events = describe_events(info.events);
    return name + ", " + std::to_string(info.probe.elements.size()) + no_break + "elements, " +
           plain(std::round(info.probe.center_Hz * 1e-4) / 1e2) + no_break + "MHz" +
           (events.empty() ? "" : "; " + events);
}

std::string describe_recipe(const Image& image) {
    const Recipe& recipe = image.recipe;
    const std::string weights =
        recipe.custom_weights.empty() ? describe_window(recipe.window.kind) : std::string("custom");
    std::string words = describe_focus(recipe) + "; " + describe_aperture(recipe) + "; " + weights + " weights";
    if (recipe.low_cut_Hz) {
        words += *recipe.low_cut_Hz > 0.0 ? "; low cut at " + plain(*recipe.low_cut_Hz * 1e-6) + no_break + "MHz"
                                          : std::string("; no low cut");
    }
    if (image.sound_speed_m_s > 0.0) {
        words += "; " + plain(image.sound_speed_m_s) + no_break + "m/s";
    }
    return words;
}

std::string caution(bool simulated) {
    return std::string(simulated ? "Simulated, for" : "For") +
           " teaching and research only; not for diagnosis or for setting acoustic output.";
}

bool is_simulated(const Image& image) {
    return !image.recording.source.phantom.empty();
}

}  // namespace echoloom
