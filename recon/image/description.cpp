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
    return "receive focus in " + counted(recipe.focus_depths_m.size(), "zone");
}

/// "Hann", "Dolph-Chebyshev": windows named after people as they are written.
std::string describe_window(WindowKind kind) {
    std::string name(window_name(kind));
    std::ranges::replace(name, '_', '-');
    if (kind == WindowKind::rectangular || kind == WindowKind::triangle || kind == WindowKind::cosine) {
        return name;
    }
    bool first = true;
    for (char& letter : name) {
        letter = first ? static_cast<char>(std::toupper(static_cast<unsigned char>(letter))) : letter;
        first = letter == '-';
    }
    return name;
}

std::string describe_aperture(const Recipe& recipe) {
    std::string text = recipe.aperture == ApertureMode::growing ? "growing aperture, F/" + plain(recipe.f_number)
                                                                : std::string("constant aperture");
    if (recipe.max_elements) {
        text += recipe.aperture == ApertureMode::growing ? ", up to " : " of ";
        text += counted(static_cast<std::size_t>(*recipe.max_elements), "element");
    }
    return text;
}

}  // namespace

std::string describe_probe(const Probe& probe) {
    return (probe.name.empty() ? "Probe" : "Probe " + probe.name) + ", " + describe_array(probe);
}

std::string describe_recording(const RecordingInfo& info) {
    std::string caption = describe_probe(info.probe);
    for (const std::string& part : {describe_scan(info), frame_rate_caption(info)}) {
        caption += part.empty() ? "" : "; " + part;
    }
    return caption;
}

std::string describe_recipe(const Image& image) {
    const Recipe& recipe = image.recipe;
    const std::string weights =
        recipe.custom_weights.empty() ? describe_window(recipe.window.kind) + " window" : "custom weights";
    std::string caption = describe_focus(recipe) + "; " + describe_aperture(recipe) + "; " + weights;
    if (recipe.high_pass_Hz) {
        caption += *recipe.high_pass_Hz > 0.0
                       ? "; high-pass at " + plain(*recipe.high_pass_Hz * 1e-6) + no_break + "MHz"
                       : std::string("; no high-pass");
    }
    if (image.sound_speed_m_s > 0.0) {
        caption += "; " + plain(image.sound_speed_m_s) + no_break + "m/s";
    }
    return caption;
}

std::string caution(bool simulated) {
    return std::string(simulated ? "Simulated, for" : "For") +
           " teaching and research only; not for diagnosis or for setting acoustic output.";
}

bool is_simulated(const Image& image) {
    return !image.recording.source.phantom.empty();
}

}  // namespace echoloom
