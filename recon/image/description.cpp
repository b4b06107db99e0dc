#include "recon/image/description.h"

#include <algorithm>
#include <cctype>
#include <cmath>

#include "recon/image/frame_rate.h"
#include "recon/image/scan_captions.h"
#include "sim/base/text.h"

namespace echoloom {

namespace {

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
    if (recipe.max_elements) {
        words += recipe.aperture == ApertureMode::growing ? " up to " : " of ";
        words += std::to_string(*recipe.max_elements) + " elements";
    }
    return words;
}

}  // namespace

std::string describe_probe(const Probe& probe) {
    return (probe.name.empty() ? "Probe" : "Probe " + probe.name) + ", " + describe_array(probe);
}

std::string describe_recording(const RecordingInfo& info) {
    std::string words = describe_probe(info.probe);
    for (const std::string& part : {describe_scan(info), frame_rate_caption(info)}) {
        words += part.empty() ? "" : "; " + part;
    }
    return words;
}

std::string describe_recipe(const Image& image) {
    const Recipe& recipe = image.recipe;
    const std::string weights =
        recipe.custom_weights.empty() ? describe_window(recipe.window.kind) : std::string("custom");
    std::string words = describe_focus(recipe) + "; " + describe_aperture(recipe) + "; " + weights + " weights";
    if (recipe.high_pass_Hz) {
        words += *recipe.high_pass_Hz > 0.0 ? "; high-pass at " + plain(*recipe.high_pass_Hz * 1e-6) + no_break + "MHz"
                                            : std::string("; no high-pass");
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
