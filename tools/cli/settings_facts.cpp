#include "tools/cli/settings_facts.h"

#include <algorithm>
#include <cmath>

#include "phantoms/phantom.h"
#include "recon/beamform/recipe.h"
#include "recon/image/description.h"
#include "sim/base/text.h"

namespace echoloom {

namespace {

using Json = nlohmann::ordered_json;

/// Two decimals of a millimetre are enough for words.
std::string mm(double length_m) {
    return plain(std::round(length_m * 1e5) / 1e2 + 0.0);
}

void add_targets(Facts& facts, const Phantom& phantom) {
    const auto wires = static_cast<std::size_t>(
        std::ranges::count_if(phantom.targets, [](const FixedTarget& target) { return target.half_length_m > 0.0; }));
    const std::size_t points = phantom.targets.size() - wires;
    std::size_t inclusions = 0;
    for (const SpeckleRegion& region : phantom.regions) {
        inclusions += region.inclusions.size();
    }
    facts.add("targets", counted(points, "point") + ", " + counted(wires, "wire"),
              {{"points", points}, {"wires", wires}});
    facts.add("speckle",
              counted(phantom.regions.size(), "region") + ", " + counted(inclusions, "inclusion") + " in " +
                  (phantom.regions.size() == 1 ? "it" : "them") + ", " +
                  counted(phantom.sheets.size(), "inclined sheet"),
              {{"regions", phantom.regions.size()}, {"inclusions", inclusions}, {"sheets", phantom.sheets.size()}});
}

void add_extent(Facts& facts, const Phantom& phantom) {
    const Box box = phantom.bounds();
    const auto from_to = [&](int axis) { return mm(box.least[axis]) + " to " + mm(box.most[axis]) + " mm"; };
    const auto pair = [&](int axis) { return Json{box.least[axis], box.most[axis]}; };
    facts.add("extent", "x from " + from_to(0) + ", elevation from " + from_to(1) + ", depth from " + from_to(2),
              {{"x_m", pair(0)}, {"elevation_m", pair(1)}, {"depth_m", pair(2)}});
}

const char* interpolation_name(Interpolation interpolation) {
    switch (interpolation) {
        case Interpolation::linear:
            return "linear";
        case Interpolation::cubic:
            return "cubic";
        case Interpolation::upsampled:
            break;
    }
    return "upsampled";
}

/// Which of these applies depends on the recording.
std::string transmit_words(const Recipe& recipe) {
    return std::string("focused lines ") +
           (recipe.transmit_focus == TransmitFocus::retrospective ? "with retrospective transmit focus"
                                                                  : "as transmitted") +
           "; plane and diverging waves with " + (recipe.angle_window ? "a window across the set" : "equal weights") +
           "; full matrix with " +
           (recipe.transmit_weights == TransmitWeights::as_receive ? "the receive weights" : "equal weights");
}

}  // namespace

Facts phantom_facts(const std::string& name, const std::filesystem::path& file, std::span<const Override> changes) {
    const Phantom phantom = load_phantom(file.string(), changes);
    Facts facts(name + ": a phantom");
    add_medium(facts, phantom.medium);
    add_targets(facts, phantom);
    add_extent(facts, phantom);
    const std::size_t scatterers = phantom.candidate_count();
    facts.add("scatterers", "at most " + std::to_string(scatterers) + ", seed " + std::to_string(phantom.seed),
              {{"candidate_scatterers", scatterers}, {"seed", phantom.seed}});
    return facts;
}

Facts recipe_facts(const std::string& name, const std::filesystem::path& file, std::span<const Override> changes) {
    const Recipe recipe = load_recipe(file.string(), changes);
    Facts facts(name + ": a recipe" + (recipe.title.empty() ? "" : ", \"" + recipe.title + '"'));
    Image image;
    image.recipe = recipe;
    image.sound_speed_m_s = recipe.sound_speed_m_s.value_or(0.0);
    const bool retrospective = recipe.transmit_focus == TransmitFocus::retrospective;
    facts.add("receive", describe_recipe(image),
              {{"title", recipe.title},
               {"focus", recipe.focus == FocusMode::fixed   ? "fixed"
                         : recipe.focus == FocusMode::zones ? "zones"
                                                            : "dynamic"},
               {"focus_depths_m", recipe.focus_depths_m},
               {"aperture", recipe.aperture == ApertureMode::growing ? "growing" : "constant"},
               {"f_number", recipe.f_number > 0.0 ? Json(recipe.f_number) : Json()},
               {"max_elements", recipe.max_elements ? Json(*recipe.max_elements) : Json()},
               {"window", recipe.custom_weights.empty() ? Json(window_name(recipe.window.kind)) : Json("custom")}});
    facts.add("transmit", transmit_words(recipe), {{"retrospective", retrospective}});
    facts.add("sound speed",
              recipe.sound_speed_m_s ? plain(*recipe.sound_speed_m_s) + " m/s assumed" : std::string("the recording's"),
              {{"sound_speed_m_s", recipe.sound_speed_m_s ? Json(*recipe.sound_speed_m_s) : Json()}});
    facts.add("resampling", interpolation_name(recipe.interpolation),
              {{"interpolation", interpolation_name(recipe.interpolation)}});
    facts.add(
        "picture",
        plain(recipe.dynamic_range_dB) + " dB below the peak" +
            (recipe.attenuation_compensation_dB_cm_MHz > 0.0
                 ? ", attenuation compensation " + plain(recipe.attenuation_compensation_dB_cm_MHz) + " dB/cm at 1 MHz"
                 : std::string()) +
            (recipe.keep_rf ? "; keeps the beamformed RF" : ""),
        {{"dynamic_range_dB", recipe.dynamic_range_dB},
         {"attenuation_compensation_dB_cm_MHz", recipe.attenuation_compensation_dB_cm_MHz},
         {"keep_rf", recipe.keep_rf}});
    return facts;
}

}  // namespace echoloom
