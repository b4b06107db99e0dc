#include "tools/cli/option_checks.h"

#include <algorithm>
#include <span>
#include <utility>

#include "sim/base/error.h"
#include "sim/base/text.h"

namespace echoloom {

namespace {

/// Each number from `min` to `max`.
void check_range(const std::string& name, std::span<const double> values, double min, double max) {
    for (const double value : values) {
        if (!(value >= min) || value > max) {
            throw InputError({name}, "is " + plain(value) + "; give a number from " + plain(min) + " to " + plain(max));
        }
    }
}

}  // namespace

void check_beam(BeamOptions& beam) {
    if (beam.paths.empty()) {
        beam.paths = {"transmit"};
    }
    const auto receives = [](const std::string& path) { return path != "transmit"; };
    if (!beam.recipes.empty() && std::ranges::none_of(beam.paths, receives)) {
        throw InputError({"--recipe"}, "shapes the receive beam; add --path receive or --path two-way");
    }
    if (beam.at_mm && beam.plane != "depth") {
        throw InputError({"--at-mm"}, "is for a plane of one depth; add --plane depth");
    }
    if (beam.pulsed && beam.frequency_MHz) {
        throw InputError({"--frequency-mhz"},
                         "is for a continuous wave, and a pulse has its probe's frequencies; leave it out or "
                         "write --set probe.center_MHz=" +
                             plain(*beam.frequency_MHz));
    }
    if (beam.pattern_at_mm && !beam.pattern) {
        throw InputError({"--pattern-at-mm"}, "is the distance of the pattern; add --pattern FILE.png");
    }
    if (!beam.phantom && !beam.phantom_settings.empty()) {
        throw InputError({"--set", 0, "phantom." + beam.phantom_settings.front().key},
                         "there is no phantom here; give one with --phantom");
    }
    if (beam.recipes.empty() && !beam.recipe_settings.empty()) {
        throw InputError({"--set", 0, "recipe." + beam.recipe_settings.front().key},
                         "there is no recipe here; give one with --recipe");
    }
}

void check_wavefronts(const WavefrontOptions& front, bool elements_given) {
    check_range("--focus-mm", front.foci_mm, 1.0, 1000.0);
    check_range("--steer-deg", front.steers_deg, -60.0, 60.0);
    check_range("--at-us", front.instants_us, -1000.0, 10000.0);
    constexpr std::size_t max_panels = 6;
    for (const auto& [name, count] :
         {std::pair{"--at-us", front.instants_us.size()}, std::pair{"--focus-mm", front.foci_mm.size()},
          std::pair{"--steer-deg", front.steers_deg.size()}}) {
        if (count > max_panels) {
            throw InputError({name}, "is given " + counted(count, "time") + "; give at most 6");
        }
    }
    if (elements_given && (front.elements < 1 || front.elements > 4096)) {
        throw InputError({"--elements"},
                         "is " + std::to_string(front.elements) + "; give a whole number from 1 to 4096");
    }
    if (front.frames < 2 || front.frames > 500) {
        throw InputError({"--frames"}, "is " + std::to_string(front.frames) + "; give a whole number from 2 to 500");
    }
    if (!front.panels && !front.animation && !front.delays && !front.echoes) {
        throw InputError({"echoloom wavefronts"},
                         "nothing is asked for; add --panels FILE.png, --animation FILE.gif, --delays FILE.png or "
                         "--echoes FILE.png");
    }
    for (const auto& [name, count] :
         {std::pair{"--focus-mm", front.foci_mm.size()}, std::pair{"--steer-deg", front.steers_deg.size()}}) {
        if (count > 1 && (front.panels || front.animation || front.echoes)) {
            throw InputError({name}, "is given " + counted(count, "time") +
                                         ", which is for --delays alone; the other pictures show one");
        }
    }
    if (front.recording && !front.echoes) {
        throw InputError({"--recording"}, "is for the echoes of a point; add --echoes FILE.png");
    }
    if (front.recording ? (front.panels || front.animation || front.delays) && !front.probe : !front.probe) {
        throw InputError({"--probe"}, "is missing; say which array it is, as in --probe linear_5MHz");
    }
    if (front.point_m) {
        const double place_mm[] = {front.point_m->x() * 1e3, front.point_m->z() * 1e3};
        check_range("--point", place_mm, -1000.0, 1000.0);
        if (!(place_mm[1] > 0.0)) {
            throw InputError({"--point"},
                             "lies " + plain(place_mm[1]) + " mm deep; give a depth more than 0, as in --point 0,40");
        }
        if (!front.echoes) {
            throw InputError({"--point"}, "is whose echoes are drawn; add --echoes FILE.png");
        }
    }
    if (front.event && !front.scan && !front.recording) {
        throw InputError({"--event"}, "belongs to a scan or a recording; add --scan NAME or --recording FILE");
    }
}

}  // namespace echoloom
