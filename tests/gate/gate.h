#pragma once
/// Makes every scenario and compares it with what was accepted.

#include <filesystem>
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "recon/compare/comparison.h"
#include "sim/engine/simulate.h"
#include "tests/gate/baseline.h"
#include "tests/gate/scenario.h"

namespace echoloom::gate {

struct Options {
    std::filesystem::path baseline;    ///< folder
    std::filesystem::path pictures;    ///< folder for those of images that differ
    std::filesystem::path recordings;  ///< folder to work in
    bool reuse = false;                ///< recordings that are there already (to try many reconstructions)
    bool until_first = false;          ///< stop after the first image that fails
    std::vector<std::string> only;     ///< recordings, or recording.image; all where empty
    EngineSettings engine = {};        ///< to try what must not matter
};

struct Result {
    std::string name;  ///< "linear_lines.apodized"
    PairComparison comparison;
    Baseline fresh;
    bool known = false;        ///< there was a baseline
    bool same_echoes = false;  ///< the recording is the same, bit by bit
    bool same_image = false;   ///< and the image
    double seconds = 0.0;      ///< forming and measuring
    std::optional<std::filesystem::path> picture;
};

/// What may differ: where the echoes are those of the baseline bit by bit, only what rounding does; else what two
/// engines may.
struct GateTolerances {
    Tolerances same_echoes, other_echoes;
};

/// Calls `done` with each image as it is done; returns all.
std::vector<Result> run(const std::vector<RecordingScenario>& scenarios, const Options& options,
                        const GateTolerances& tolerances, const std::function<void(const Result&)>& done);

/// Whether an image is to be made.
bool wanted(const Options& options, const std::string& recording, const std::string& image);

}  // namespace echoloom::gate
