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

struct SimulateOptions {
    std::string phantom, probe, scan;  ///< paths or shipped names
    std::vector<Override> phantom_settings, probe_settings, scan_settings;
    std::filesystem::path output = "recording.h5";
    int threads = 0;  ///< 0: every processor
    double memory_GiB = 2.0;
    std::size_t cells_per_block = 0;  ///< 0: chosen by the engine
    std::string route;                ///< "matrix", "direct" or empty: chosen by the engine
    bool verbose = false;
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
    std::optional<std::filesystem::path> sheet;  ///< default panels.png beside the images
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
    Aim aim;                                    ///< given by hand
    bool correlation = false;                   ///< between successive pulses, in place of widths
    int threads = 0;
    bool force = false;
    bool quiet = false;
};

/// Images from any recordings on one page.
struct PanelsCommand {
    std::vector<std::filesystem::path> images;
    std::filesystem::path output = "panels.png";
    std::string heading;
    std::vector<std::string> titles;  ///< one for each image, or none
    std::optional<double> range_dB;
    bool common_peak = false;
    bool mark_truth = false;
    bool force = false;
};

/// Beams set side by side: one for each probe, or each scan, or each pair of both; of each, one for each way and
/// recipe.
struct BeamOptions {
    std::vector<std::string> probes, scans;  ///< paths or shipped names
    std::vector<std::string> ways;           ///< "transmit", "receive", "two-way"
    std::vector<std::string> recipes;        ///< how to listen; paths or shipped names; none: as the scan does
    std::string plane = "scan";              ///< "scan", "elevation" or "depth"
    std::optional<double> at_mm;             ///< of the plane "depth"
    bool pulsed = false;
    std::optional<std::filesystem::path> pattern;  ///< level against angle
    std::optional<double> pattern_at_mm;
    std::optional<std::string> phantom;  ///< whose medium it is; default lossless, 1540 m/s
    std::vector<Override> phantom_settings, probe_settings, scan_settings;
    std::optional<long long> event;  ///< counted from 0; default the middle one
    std::optional<double> MHz;       ///< default each probe's centre frequency
    std::optional<double> depth_mm;  ///< along the beam's axis
    std::optional<double> width_mm;  ///< of the map
    bool unfocused = false;
    std::optional<std::filesystem::path> map, plot, csv;
    bool json = false;
    int threads = 0;
    bool force = false;
    bool quiet = false;
};

/// How a front comes about, and how its echo is brought into line. At least one of the outputs is there.
struct WavefrontOptions {
    std::optional<std::string> probe;  ///< a path or shipped name; needed by all but echoes of a recording
    std::optional<std::string> scan;   ///< whose event it is; none: aimed by the first focus and angle
    std::optional<long long> event;    ///< counted from 0; default the middle one, or of a recording the nearest
    std::vector<Override> probe_settings, scan_settings;
    std::vector<double> foci_mm, steers_deg;
    int elements = 0;  ///< that fire; 0: all of the row, or 64 of a longer one
    std::vector<double> instants_us;
    int frames = 60;
    std::optional<double> depth_mm, width_mm;
    std::optional<std::filesystem::path> recording;
    std::optional<std::pair<double, double>> point_mm;  ///< lateral, depth
    std::optional<std::filesystem::path> sheet, animation, delays, echoes;
    int threads = 0;
    bool force = false;
    bool quiet = false;
};

/// Two images, two recordings, or two folders of them.
struct CompareOptions {
    std::filesystem::path before, after;
    std::optional<std::filesystem::path> tolerances;
    std::optional<std::filesystem::path> picture;  ///< a file; of folders, a folder
    std::optional<std::filesystem::path> junit;
    bool every = false;  ///< every number in the table
    bool json = false;
    int threads = 0;
    bool force = false;
    bool quiet = false;
};

struct ShowOptions {
    std::filesystem::path file;        ///< or the word "shipped", or the name of a shipped probe or scan
    std::optional<std::string> probe;  ///< of a scan: a path or shipped name
    std::vector<Override> probe_settings, scan_settings;
    bool verify = false;
    bool json = false;
};

/// Samples off a bench become a recording.
struct ImportOptions {
    std::filesystem::path bench;
    std::vector<Override> settings;
    std::filesystem::path output = "recording.h5";
    bool example = false;
    bool dry_run = false;
    bool json = false;
    bool force = false;
    bool quiet = false;
};

using Command = std::variant<SimulateOptions, ReconstructOptions, MeasureOptions, PanelsCommand, BeamOptions,
                             WavefrontOptions, ImportOptions, CompareOptions, ShowOptions>;

/// Empty where help or the version was asked for and has been printed. Throws InputError.
std::optional<Command> read_command_line(int argc, const char* const* argv);

}  // namespace echoloom
