#include "tools/cli/option_checks.h"

#include <algorithm>
#include <span>
#include <utility>

#include "sim/base/error.h"
#include "sim/base/text.h"

namespace echoloom {

namespace {

/// Each number from the least to the most that are given.
void check_range(const std::string& name, std::span<const double> values, double least, double most) {
    for (const double value : values) {
        if (!(value >= least) || value > most) {
            throw InputError({name},
                             "is " + plain(value) + "; give a number from " + plain(least) + " to " + plain(most));
        }
    }
}

}  // namespace

void check_beam(BeamOptions& field) {
    if (field.ways.empty()) {
        field.ways = {"transmit"};
    }
    const auto heard = [](const std::string& way) { return way != "transmit"; };
    if (!field.recipes.empty() && std::ranges::none_of(field.ways, heard)) {
        throw InputError({"--recipe"}, "says how to listen; add --way receive or --way two-way");
    }
    if (field.at_mm && field.plane != "depth") {
        throw InputError({"--at-mm"}, "is for a plane of one depth; add --plane depth");
    }
    if (field.pulsed && field.MHz) {
        throw InputError({"--MHz"},
                         "is for a continuous wave, and a pulse has its probe's frequencies; leave it out or "
                         "write --set probe.center_MHz=" +
                             plain(*field.MHz));
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
            throw InputError({name}, "is given " + std::to_string(count) + " times; give at most 6");
        }
    }
    if (elements_given && (front.elements < 1 || front.elements > 4096)) {
        throw InputError({"--elements"},
                         "is " + std::to_string(front.elements) + "; give a whole number from 1 to 4096");
    }
    if (front.frames < 2 || front.frames > 500) {
        throw InputError({"--frames"}, "is " + std::to_string(front.frames) + "; give a whole number from 2 to 500");
    }
    if (!front.sheet && !front.animation && !front.delays && !front.echoes) {
        throw InputError({"echoloom wavefronts"},
                         "nothing is asked for; add --panels FILE.png, --animation FILE.gif, --delays FILE.png or "
                         "--echoes FILE.png");
    }
    for (const auto& [name, count] :
         {std::pair{"--focus-mm", front.foci_mm.size()}, std::pair{"--steer-deg", front.steers_deg.size()}}) {
        if (count > 1 && (front.sheet || front.animation || front.echoes)) {
            throw InputError({name}, "is given " + std::to_string(count) +
                                         " times, which is for --delays alone; the other pictures show one");
        }
    }
    if (front.recording && !front.echoes) {
        throw InputError({"--recording"}, "is for the echoes of a point; add --echoes FILE.png");
    }
    if (front.recording ? (front.sheet || front.animation || front.delays) && !front.probe : !front.probe) {
        throw InputError({"--probe"}, "is missing; say which array it is, as in --probe linear_5MHz");
    }
    if (front.point_mm) {
        const double place[] = {front.point_mm->first, front.point_mm->second};
        check_range("--point-mm", place, -1000.0, 1000.0);
        if (!(front.point_mm->second > 0.0)) {
            throw InputError({"--point-mm"}, "lies " + plain(front.point_mm->second) +
                                                 " mm deep; give a depth more than 0, as in --point-mm 0 40");
        }
        if (!front.echoes) {
            throw InputError({"--point-mm"}, "is whose echoes are drawn; add --echoes FILE.png");
        }
    }
    if (front.event && !front.scan && !front.recording) {
        throw InputError({"--event"}, "belongs to a scan or a recording; add --scan NAME or --recording FILE");
    }
}

}  // namespace echoloom
