#pragma once
/// What a command line asks for, as plain structs.

#include <cstddef>
#include <filesystem>
#include <optional>
#include <string>
#include <utility>
#include <variant>
#include <vector>

#include "recon/measure/aim.h"
#include "sim/base/settings.h"

namespace echoloom {

/// What means the same in every command that can apply it.
struct CommonOptions {
    int threads = 0;     ///< 0: every processor
    bool json = false;   ///< JSON on standard output
    bool force = false;  ///< replaces files that are already there
    bool quiet = false;  ///< no progress, no messages
};

struct SimulateOptions : CommonOptions {
    std::string phantom, probe, scan;  ///< paths or shipped names
    std::vector<Override> phantom_settings, probe_settings, scan_settings;
    std::filesystem::path output = "recording.h5";
    double memory_GiB = 2.0;
    std::size_t cells_per_block = 0;  ///< 0: chosen by the engine
    std::string route;                ///< "matrix", "direct" or empty: chosen by the engine
    bool verbose = false;
    bool dry_run = false;
};

struct ReconstructOptions : CommonOptions {
    std::filesystem::path recording;
    std::vector<std::string> recipes;  ///< paths or shipped names
    std::vector<Override> settings;    ///< for every recipe
    std::optional<std::filesystem::path>
        output;  ///< a folder, or the name of the one image; default beside the recording
    std::optional<std::filesystem::path> panels;  ///< default panels.png beside the images
    bool mark_truth = false;
};

struct MeasureOptions : CommonOptions {
    std::vector<std::filesystem::path> images;
    std::optional<std::filesystem::path> csv;
    std::optional<std::filesystem::path> plot;  ///< folder
    Aim aim;                                    ///< given by hand
    bool correlation = false;                   ///< between successive pulses, in place of widths
};

/// Images from any recordings on one page.
struct PanelsCommand : CommonOptions {
    std::vector<std::filesystem::path> images;
    std::optional<std::filesystem::path> output;  ///< default panels.png beside the first image
    std::string heading;
    std::vector<std::string> titles;  ///< one for each image, or none
    std::optional<double> dynamic_range_dB;
    bool common_peak = false;
    bool mark_truth = false;
};

/// Beams set side by side: one for each probe, or each scan, or each pair of both; of each, one for each path and
/// recipe.
struct BeamOptions : CommonOptions {
    std::vector<std::string> probes, scans;  ///< paths or shipped names
    std::vector<std::string> paths;          ///< "transmit", "receive", "two-way"
    std::vector<std::string> recipes;        ///< of receive; paths or shipped names; none: as the scan does
    std::string plane = "scan";              ///< "scan", "elevation" or "depth"
    std::optional<double> at_mm;             ///< of the plane "depth"
    bool pulsed = false;
    std::optional<std::filesystem::path> pattern;  ///< level against angle
    std::optional<double> pattern_at_mm;
    std::optional<std::string> phantom;  ///< whose medium it is; default lossless, 1540 m/s
    std::vector<Override> phantom_settings, probe_settings, scan_settings, recipe_settings;
    std::optional<long long> event;       ///< counted from 1; default the middle one
    std::optional<double> frequency_MHz;  ///< default each probe's centre frequency
    std::optional<double> depth_mm;       ///< along the beam's axis
    std::optional<double> width_mm;       ///< of the map
    bool unfocused = false;
    std::optional<std::filesystem::path> map, plot, csv;
};

/// How a front comes about, and how its echoes are brought into phase. At least one of the outputs is there.
struct WavefrontOptions : CommonOptions {
    std::optional<std::string> probe;  ///< a path or shipped name; needed by all but echoes of a recording
    std::optional<std::string> scan;   ///< whose event it is; none: aimed by the first focus and angle
    std::optional<long long> event;    ///< counted from 1; default the middle one, or of a recording the nearest
    std::vector<Override> probe_settings, scan_settings;
    std::vector<double> foci_mm, steers_deg;
    int elements = 0;  ///< that fire; 0: all of the row, or 64 of a longer one
    std::vector<double> instants_us;
    int frames = 60;
    std::optional<double> depth_mm, width_mm;
    std::optional<std::filesystem::path> recording;
    std::optional<Vec3> point_m;
    std::optional<std::filesystem::path> panels, animation, delays, echoes;
};

/// Two images, two recordings, or two folders of them.
struct CompareOptions : CommonOptions {
    std::filesystem::path before, after;
    std::optional<std::filesystem::path> tolerances;
    std::optional<std::filesystem::path> picture;  ///< a file; of folders, a folder
    std::optional<std::filesystem::path> junit;
    bool every = false;  ///< every number in the table
};

struct ShowOptions : CommonOptions {
    std::string file;                  ///< a path, or the name of something shipped
    std::optional<std::string> probe;  ///< of a scan: a path or shipped name
    std::vector<Override> phantom_settings, probe_settings, scan_settings, recipe_settings;
    bool toml = false;  ///< the text of a settings file
    bool verify = false;
};

struct ListOptions : CommonOptions {
    std::string shelf;  ///< "phantoms", "probes", "scans", "recipes" or empty: all
};

/// Acquired samples become a recording.
struct ImportOptions : CommonOptions {
    std::filesystem::path acquisition;
    std::vector<Override> settings;
    std::filesystem::path output = "recording.h5";
    bool example = false;
    bool dry_run = false;
};

using Command = std::variant<SimulateOptions, ReconstructOptions, MeasureOptions, PanelsCommand, BeamOptions,
                             WavefrontOptions, ImportOptions, CompareOptions, ShowOptions, ListOptions>;

/// Empty where help or the version was asked for and has been printed. Throws InputError.
std::optional<Command> read_command_line(int argc, const char* const* argv);

}  // namespace echoloom
