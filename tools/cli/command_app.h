#pragma once
/// Every command with its options, as CLI11 holds them: to read a command line by, or to walk and describe.

#include <memory>
#include <string>
#include <vector>

#include "tools/cli/command_line.h"

namespace CLI {
class App;
}

namespace echoloom {

/// Words and numbers as they were typed, before they are checked. A line holds one command, so that options of one name
/// share a member.
struct Typed {
    std::vector<std::string> settings, points, discs, speckle, images;
    std::string acquisition, recording, file, probe, scan, phantom, before, after, box;
    std::string output, panels, csv, plot, map, pattern, animation, delays, echoes, tolerances, picture, junit;
    long long event = 0;
    double frequency_MHz = 0.0, depth_mm = 0.0, width_mm = 0.0, at_mm = 0.0, pattern_at_mm = 0.0;
    double dynamic_range_dB = 0.0;
};

/// Where a command line is read into.
struct CommandLine {
    SimulateOptions simulate;
    ReconstructOptions reconstruct;
    MeasureOptions measure;
    PanelsCommand panels;
    BeamOptions beam;
    WavefrontOptions wavefronts;
    ImportOptions imported;
    CompareOptions compare;
    ShowOptions show;
    ListOptions list;
    Typed typed;
};

/// The program with all its commands and options. What it reads goes into `line`, which must outlive it.
std::unique_ptr<CLI::App> command_app(CommandLine& line);

}  // namespace echoloom
