#include "recon/beamform/zone_blend.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "recon/beamform/scan_kind.h"
#include "recon/beamform/zone_beams.h"

namespace echoloom {
namespace {

constexpr double same_focus_m = 1e-6;
constexpr double max_gain = 10.0;  ///< where two beams nearly cancel, or both are far out of focus

/// The events of a line that are focused at one depth.
struct Zone {
    double focus_m = 0.0;
    std::vector<std::size_t> events;
};

std::vector<Zone> zones_of(const RecordingInfo& info, const LineEvents& line) {
    std::vector<Zone> zones;
    for (const std::size_t event : line.events) {
        const double focus = (info.events[event].focus_m - info.events[event].origin_m).norm();
        const auto found = std::ranges::find_if(zones, [&](const Zone& zone) {
            // Events without a focus are alike.
            return std::abs(zone.focus_m - focus) < same_focus_m || (std::isnan(zone.focus_m) && std::isnan(focus));
        });
        if (found == zones.end()) {
            zones.push_back({focus, {event}});
        } else {
            found->events.push_back(event);
        }
    }
    std::ranges::sort(zones, {}, &Zone::focus_m);
    return zones;
}

/// Weight of the lower of two zones.
double lower_share(const ZoneGap& gap, double depth_m) {
    const double upper = gap.upper_half_m * gap.upper_half_m;
    const double lower = gap.lower_half_m * gap.lower_half_m;
    const double seam = (upper + lower) / (upper / gap.upper_focus_m + lower / gap.lower_focus_m);
    const double half = 0.5 * std::min(seam - gap.upper_focus_m, gap.lower_focus_m - seam);
    const double place = std::clamp(0.5 + 0.5 * (depth_m - seam) / half, 0.0, 1.0);
    return 0.5 - 0.5 * std::cos(std::numbers::pi * place);
}

/// A gap's intensities at any depth of it.
BeamPower power_at(const ZoneGap& gap, double depth_m) {
    const auto upper = std::ranges::upper_bound(gap.depth_m, depth_m);
    const auto last = static_cast<std::ptrdiff_t>(gap.depth_m.size()) - 1;
    const auto i = static_cast<std::size_t>(std::clamp<std::ptrdiff_t>(upper - gap.depth_m.begin(), 1, last));
    const double t = (depth_m - gap.depth_m[i - 1]) / (gap.depth_m[i] - gap.depth_m[i - 1]);
    const auto between = [&](double BeamPower::*what) {
        return std::lerp(gap.power[i - 1].*what, gap.power[i].*what, t);
    };
    return {between(&BeamPower::log_upper), between(&BeamPower::log_lower), between(&BeamPower::coherence)};
}

/// Gains of the upper and the lower zone at a depth between their foci.
std::pair<double, double> gains_at(const ZoneGap& gap, double depth_m) {
    const double way = std::log(depth_m / gap.upper_focus_m) / std::log(gap.lower_focus_m / gap.upper_focus_m);
    const double wanted = std::exp(std::lerp(gap.power.front().log_upper, gap.power.back().log_lower, way));
    const BeamPower power = power_at(gap, depth_m);
    const double lower = lower_share(gap, depth_m);
    const double from_upper = (1.0 - lower) * std::exp(0.5 * power.log_upper);
    const double from_lower = lower * std::exp(0.5 * power.log_lower);
    const double blended =
        from_upper * from_upper + from_lower * from_lower + 2.0 * from_upper * from_lower * power.coherence;
    const double scale = blended * max_gain * max_gain > wanted ? std::sqrt(wanted / blended) : max_gain;
    return {(1.0 - lower) * scale, lower * scale};
}

/// Gain of each zone at each depth.
std::vector<std::vector<float>> gains_of(std::span<const Zone> zones, std::span<const ZoneGap* const> gaps,
                                         std::span<const double> depth_m) {
    std::vector<std::vector<float>> gains(zones.size(), std::vector<float>(depth_m.size(), 0.0F));
    for (std::size_t d = 0; d < depth_m.size(); ++d) {
        const auto below = std::ranges::upper_bound(zones, depth_m[d], {}, &Zone::focus_m) - zones.begin();
        const auto lower = static_cast<std::size_t>(below);
        if (lower == 0 || lower == zones.size()) {
            gains[lower == 0 ? 0 : lower - 1][d] = 1.0F;
            continue;
        }
        const auto [above_gain, below_gain] = gains_at(*gaps[lower - 1], depth_m[d]);
        gains[lower - 1][d] = static_cast<float>(above_gain);
        gains[lower][d] = static_cast<float>(below_gain);
    }
    for (std::size_t zone = 0; zone < zones.size(); ++zone) {
        for (float& gain : gains[zone]) {
            gain /= static_cast<float>(zones[zone].events.size());
        }
    }
    return gains;
}

}  // namespace

ZoneGains zone_gains(const RecordingInfo& info, const LineSetting& setting) {
    ZoneGains result;
    result.by_depth.resize(info.events.size());
    std::vector<std::vector<Zone>> lines;
    for (const LineEvents& line : events_by_line(info)) {
        std::vector<Zone> zones = zones_of(info, line);
        if (zones.size() > 1) {
            lines.push_back(std::move(zones));
        }
    }
    if (lines.empty()) {
        return result;
    }
    // Neighbouring lines mostly see the same beams: each is computed once.
    const ElementPlaces places(info.probe);
    GapsOfLines gaps;
    for (const std::vector<Zone>& zones : lines) {
        for (std::size_t zone = 0; zone + 1 < zones.size(); ++zone) {
            gaps.add(beams_between(info, places, zones[zone].events.front(), zones[zone + 1].events.front(),
                                   setting.sound_speed_m_s));
        }
    }
    gaps.compute(info, setting);

    std::size_t gap = 0;
    for (const std::vector<Zone>& zones : lines) {
        std::vector<const ZoneGap*> between;
        for (std::size_t zone = 0; zone + 1 < zones.size(); ++zone) {
            between.push_back(&gaps.of(gap++));
        }
        const auto gains = gains_of(zones, between, setting.depth_m);
        for (std::size_t zone = 0; zone < zones.size(); ++zone) {
            for (const std::size_t event : zones[zone].events) {
                result.by_depth[event] = gains[zone];
            }
        }
    }
    return result;
}

}  // namespace echoloom
