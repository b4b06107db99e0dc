#pragma once
/// The fixed settings that are timed, read from workloads/*.toml; small ones where only running is to be seen.

#include <optional>

#include "phantoms/phantom.h"
#include "recon/beamform/beamform.h"
#include "sim/array/probe.h"
#include "sim/array/scan.h"
#include "tests/benchmark/bench.h"

namespace echoloom::benchmark {

struct EchoWorkload {
    std::string words;
    std::string phantom, probe, scan;  ///< names of files
    std::optional<double> goal_s;
};
const std::vector<EchoWorkload>& echo_workloads();

struct Scene {
    Phantom phantom;
    Probe probe;
    Scan scan;
};
/// `fraction` thins the speckle out.
Scene load_scene(const Bench& bench, const EchoWorkload& workload, double fraction = 1.0);

struct ImageWorkload {
    std::string name;  ///< one word, also in file names
    std::string words;
    std::string probe, scan, recipe;
    std::optional<double> goal_linear_s = {}, goal_upsampled_s = {};
    double twin_fraction = 1.0;          ///< of the columns, that plain NumPy forms unless all are asked for
    double twin_error = 3e-4;            ///< allowed between the two: positions and weights are rounded to float
    std::vector<Override> changes = {};  ///< to the recipe
};
const std::vector<ImageWorkload>& image_workloads();
/// Lines whose apertures are all alike, so that one table serves them all: as in frame after frame.
const ImageWorkload& frame_workload();

/// Samples that stand for a recording's: noise in the probe's band, fading in at the start and out at the end.
struct ImageScene {
    RecordingInfo info;
    Recipe recipe;
    std::vector<float> samples;  ///< [event, channel, sample]

    EventReader reader() const;
};
ImageScene load_image_scene(const Bench& bench, const ImageWorkload& workload, const std::string& interpolation);

}  // namespace echoloom::benchmark
