#pragma once
/// How a front forms and how its echoes are brought into phase: what `echoloom wavefronts` draws.

#include <filesystem>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "sim/array/probe.h"
#include "sim/array/scan.h"
#include "sim/base/medium.h"

namespace echoloom {

/// One event and what transmits it.
struct Front {
    Probe probe;
    std::optional<HeadMotion> head;
    TransmitEvent event;
    Medium medium;
    double assumed_speed_m_s = 1540.0;  ///< of the delays
    double focus_m = 0.0;               ///< in front of the origin; 0 where there is none
    std::string words;                  ///< "linear_5MHz, focused at 40 mm, steered by 15 degrees"
};

/// An event that focuses at a distance from the middle of the face, steered; `elements` of 0 fires all of the row, or
/// 64 of a longer one. Throws InputError for what the array cannot do.
TransmitEvent aimed_event(const Probe& probe, double focus_m, double steer_rad, int elements, double sound_speed_m_s);

/// The pressure in the image plane at chosen instants.
struct FrontView {
    double depth_m = 0.0, width_m = 0.0;  ///< 0: chosen
    std::vector<double> instants_s;       ///< of the panels; empty: six
    int frames = 60;                      ///< of the animation
    bool quiet = false;                   ///< no progress
};
/// What was measured of the front, against what it should be.
struct FrontFigures {
    std::vector<double> instants_s;
    std::optional<double> arrival_s;  ///< at the focus: when the envelope is highest there
    std::optional<double> gain;       ///< the peak there relative to the mean of what elements do there alone
    std::size_t firing = 0;
    double share = 0.0;  ///< sum of weights relative to the largest: what the gain should be
};
FrontFigures draw_front(const Front& front, const FrontView& view, const std::optional<std::filesystem::path>& panels,
                        const std::optional<std::filesystem::path>& animation);

/// Delays for several foci and angles.
struct DelayProfile {
    double focus_m = 0.0, steer_rad = 0.0;
    std::vector<double> lateral_m;  ///< [firing element] from the middle
    std::vector<double> delay_s;    ///< [firing element] after the first that fires
    double spread_s = 0.0;          ///< from the first that fires to the last
    double parabola_s = 0.0;        ///< the same of the parabolic law
};
std::vector<DelayProfile> delay_profiles(const Probe& probe, std::span<const double> foci_m,
                                         std::span<const double> steers_rad, int elements, double sound_speed_m_s);
void draw_delays(const Probe& probe, std::span<const DelayProfile> profiles, const std::filesystem::path& png);

/// The echo of one point in every channel, before and after the receive delays.
struct Alignment {
    std::string words;  ///< where the echoes are from
    bool simulated = true;
    Vec3 point_m = Vec3::Zero();
    double sampling_rate_Hz = 0.0;
    double start_s = 0.0;                           ///< of what is shown
    std::vector<double> arrival_s;                  ///< [channel] by the delays
    double meeting_s = 0.0;                         ///< where they are brought to
    std::vector<std::vector<float>> before, after;  ///< [channel][sample]
    std::vector<float> sum_before, sum_after;       ///< [sample] means over the channels
    double sum_ratio = 0.0;      ///< peak of the sum after the delays relative to the mean of the channels' peaks
    double scatter_ratio = 0.0;  ///< the same before
};
/// Echoes of a point at `point_m` (default: the focus) of an event, computed.
Alignment simulated_alignment(const Front& front, const std::optional<Vec3>& point_m);
/// From a recording: the event nearest to the point, or `event` (from 1); the point may be left out where the truth has
/// one.
Alignment recorded_alignment(const std::filesystem::path& recording, const std::optional<Vec3>& point_m,
                             std::optional<long long> event);
void draw_alignment(const Alignment& alignment, const std::filesystem::path& png);

/// NAME.png, and .csv, .gp and .svg beside it.
std::vector<std::filesystem::path> line_plot_files_of(const std::filesystem::path& png);

}  // namespace echoloom
