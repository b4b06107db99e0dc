#pragma once
/// The events of each kind of scan, from its settings. Each throws InputError for what the probe or physics cannot do.

#include "sim/array/scan.h"

namespace echoloom {

/// Lines side by side along the face: parallel, steered, fanning, or along the radii of a curved array.
void add_focused_lines(Settings& settings, const Probe& probe, Scan& scan);
/// Lines from one point, the middle of a flat face.
void add_sector_lines(Settings& settings, const Probe& probe, Scan& scan);
void add_plane_waves(Settings& settings, const Probe& probe, Scan& scan);
void add_diverging_waves(Settings& settings, const Probe& probe, Scan& scan);
void add_single_elements(const Probe& probe, Scan& scan);
/// One sweep of a head on a rotor.
void add_swept_lines(Settings& settings, const Probe& probe, Scan& scan);

/// Sets each event's first sample and the scan's common number of samples so that nothing wanted is cut off.
void set_sample_times(const Probe& probe, Scan& scan);

/// What two kinds of scan have in common.
inline constexpr int max_lines = 4096;
inline constexpr double steepest_line_deg = 60.0;
/// `key` as a count of columns of the array: `fallback` where it is missing; refused beyond what there is.
int read_columns(Settings& settings, const Probe& probe, const char* key, int fallback);

}  // namespace echoloom
