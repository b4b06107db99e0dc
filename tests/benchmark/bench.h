#pragma once
/// What every group of rows works with, and the groups.

#include <filesystem>
#include <map>
#include <string>
#include <utility>
#include <vector>

#include "tests/benchmark/report.h"

namespace echoloom::benchmark {

struct Options {
    std::vector<std::string> groups;  ///< empty: all
    int threads = 0;                  ///< 0: every processor
    bool help = false;
    bool quick = false;  ///< small workloads, once each, no goals: to see that everything runs
    bool full = false;   ///< the Python twins on whole workloads, which takes an hour
    std::filesystem::path json;
    std::filesystem::path program;  ///< echoloom
};

/// What bounds a stage on this machine; measured once a run, when first asked for.
enum class Roof { multiply_add, matrix_product, memory_read, memory_triad, interpolation, transform };

struct Bench {
    Options options;
    Report report;
    std::filesystem::path sources;    ///< of the project
    std::filesystem::path temporary;  ///< a folder for what is written

    std::filesystem::path workload(const std::string& name) const {
        return sources / "tests/benchmark/workloads" / (name + ".toml");
    }
    std::filesystem::path script(const std::string& name) const { return sources / "tests/reference" / name; }
    int rounds(int usual) const { return options.quick ? 1 : usual; }
    bool warm_up() const { return !options.quick; }

    /// In operations, bytes, samples or transforms a second.
    double roof(Roof kind, int threads);
    double roof(Roof kind) { return roof(kind, options.threads); }

    std::map<std::pair<Roof, int>, double> roofs;
};

void measure_roofs(Bench& bench);
void measure_echoes(Bench& bench);
void measure_cost(Bench& bench);
void measure_images(Bench& bench);
void measure_echo_twins(Bench& bench);
void measure_image_twins(Bench& bench);
void measure_files(Bench& bench);
void measure_startup(Bench& bench);
void measure_memory(Bench& bench);

}  // namespace echoloom::benchmark
