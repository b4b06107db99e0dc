#pragma once
/// What a command line asks for, as plain structs.

#include <cstddef>
#include <filesystem>
#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "sim/base/settings.h"

namespace echoloom {

struct SimulateOptions {
    std::string phantom, probe, scan;  ///< paths or shipped names
    std::vector<Override> phantom_settings, probe_settings, scan_settings;
    std::filesystem::path output = "recording.h5";
    int threads = 0;  ///< 0: every processor
    double memory_GiB = 2.0;
    std::size_t cells_per_block = 0;  ///< 0: chosen by the engine
    bool dry_run = false;
    bool force = false;
    bool quiet = false;
};

struct ReconstructOptions {
    std::filesystem::path recording;
    std::vector<std::string> recipes;  ///< paths or shipped names
    std::vector<Override> settings;    ///< for every recipe
    std::optional<std::filesystem::path>
        output;  ///< a folder, or the name of the one image; default beside the recording
    std::optional<std::filesystem::path> sheet;  ///< default sheet.png beside the images
    bool mark_truth = false;
    int threads = 0;
    bool force = false;
    bool quiet = false;
};

struct MeasureOptions {
    std::vector<std::filesystem::path> images;
    bool json = false;
    std::optional<std::filesystem::path> csv;
    std::optional<std::filesystem::path> plot;  ///< folder
    int threads = 0;
    bool force = false;
};

struct ShowOptions {
    std::filesystem::path file;  ///< or the word "shipped"
    bool verify = false;
    bool json = false;
};

using Command = std::variant<SimulateOptions, ReconstructOptions, MeasureOptions, ShowOptions>;

/// Empty where help or the version was asked for and has been printed. Throws InputError.
std::optional<Command> read_command_line(int argc, const char* const* argv);

}  // namespace echoloom
