// The gate: makes small recordings and images of every kind and compares them with accepted ones. tools/gate builds and
// starts it.

#include <hwy/targets.h>
#include <omp.h>
#include <unistd.h>

#include <algorithm>
#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <set>

#include "recon/compare/comparison_output.h"
#include "sim/base/atomic_file.h"
#include "sim/base/error.h"
#include "sim/base/text.h"
#include "tests/gate/gate.h"

namespace echoloom::gate {

namespace {

namespace fs = std::filesystem;

constexpr const char* help = R"(Compares images of small recordings of every kind with accepted ones.

  tools/gate                    makes all of them and compares; exit code 0 the same within tolerance, 1 different,
                                2 inconclusive (or an argument or file that cannot be used)
  tools/gate linear_lines       only the images of this recording; linear_lines.hann: only this one
  tools/gate accept             shows what differs and makes it the new baseline; what is the same within tolerance
                                keeps its old one, so that small changes do not accumulate
  tools/gate accept --all       also renews what is the same within tolerance
  --pictures FOLDER             where pictures of what differs go; default output/gate
  --junit FILE.xml, --json FILE.json   the result for build servers and programs
  --tolerances FILE.toml        in place of tests/gate/same_echoes.toml and other_echoes.toml
  --threads N
To try what must not matter: --instructions NAME (SCALAR, AVX2, AVX3 ...), --cells-per-block N, --route matrix|direct,
--engine-tolerance X; and --recordings FOLDER to keep and reuse recordings, --until-first to stop at a failure.

Scenarios are declared in tests/gate/scenarios.toml.
)";

struct Arguments {
    Options options;
    fs::path scenarios = fs::path(ECHOLOOM_SOURCES) / "tests/gate/scenarios.toml";
    std::optional<fs::path> tolerances, junit, json;
    bool accept = false;
    bool all = false;
};

/// The vector instructions that kernels run on, by Highway's name; those of this machine by default.
void choose_instructions(const std::string& name) {
    std::string known;
    for (const std::int64_t target : hwy::SupportedAndGeneratedTargets()) {
        known += std::string(known.empty() ? "" : ", ") + hwy::TargetName(target);
        if (name == hwy::TargetName(target)) {
            hwy::SetSupportedTargetsForTest(target);
            return;
        }
    }
    throw InputError({"--instructions"}, "'" + name + "' is not available here; give one of " + known);
}

Arguments read_arguments(int argc, char** argv) {
    const fs::path sources(ECHOLOOM_SOURCES);
    Arguments arguments;
    arguments.options.engine.quiet = true;
    arguments.options.baseline = sources / "tests/gate/baseline";
    arguments.options.pictures = sources / "output/gate";
    for (int n = 1; n < argc; ++n) {
        const std::string word = argv[n];
        const auto next = [&]() -> std::string {
            if (n + 1 >= argc) {
                throw InputError({word}, "its value is missing; see tools/gate --help");
            }
            return argv[++n];
        };
        if (word == "accept") {
            arguments.accept = true;
        } else if (word == "--all") {
            arguments.all = true;
        } else if (word == "--baseline") {
            arguments.options.baseline = next();
        } else if (word == "--scenarios") {
            arguments.scenarios = next();
        } else if (word == "--pictures") {
            arguments.options.pictures = next();
        } else if (word == "--recordings") {
            arguments.options.recordings = next();
            arguments.options.reuse = true;
        } else if (word == "--until-first") {
            arguments.options.until_first = true;
        } else if (word == "--junit") {
            arguments.junit = next();
        } else if (word == "--json") {
            arguments.json = next();
        } else if (word == "--tolerances") {
            arguments.tolerances = next();
        } else if (word == "--threads") {
            arguments.options.engine.threads = std::max(1, std::atoi(next().c_str()));
        } else if (word == "--cells-per-block") {
            arguments.options.engine.cells_per_block = static_cast<std::size_t>(std::max(0, std::atoi(next().c_str())));
        } else if (word == "--instructions") {
            choose_instructions(next());
        } else if (word == "--engine-tolerance") {
            arguments.options.engine.tolerance = std::atof(next().c_str());
        } else if (word == "--route") {
            arguments.options.engine.route = next() == "direct" ? Route::direct : Route::matrix;
        } else if (word.starts_with('-')) {
            throw InputError({word}, "unknown option; see tools/gate --help");
        } else {
            arguments.options.only.push_back(word);
        }
    }
    return arguments;
}

void check_names(const std::vector<RecordingScenario>& scenarios, const Options& options) {
    std::vector<std::string> known;
    for (const RecordingScenario& scenario : scenarios) {
        known.push_back(scenario.name);
        for (const ImageScenario& image : scenario.images) {
            known.push_back(scenario.name + "." + image.name);
        }
    }
    for (const std::string& word : options.only) {
        if (std::ranges::find(known, word) == known.end()) {
            throw InputError({word}, "no scenario has this name; " + suggestion(word, known));
        }
    }
}

std::string bits_text(const Result& result) {
    if (!result.known) {
        return "new";
    }
    if (result.same_image) {
        return "same bits";
    }
    return result.same_echoes ? "echoes same bits" : "other bits";
}

void print_line(const Result& result) {
    double percent = 0.0;
    for (const NamedDifference& samples : result.comparison.differences) {
        percent = std::max(percent, 100.0 * samples.difference.relative_l2);
    }
    std::printf("%-36s %-22s %-17s %8.4f %% %6.2f s\n", result.name.c_str(),
                verdict_word(result.comparison.verdict).c_str(), bits_text(result).c_str(), percent, result.seconds);
    std::fflush(stdout);
}

/// Baselines whose scenario is gone.
std::vector<fs::path> orphans(const std::vector<RecordingScenario>& scenarios, const Options& options) {
    std::set<std::string> names;
    for (const RecordingScenario& scenario : scenarios) {
        for (const ImageScenario& image : scenario.images) {
            names.insert(scenario.name + "." + image.name);
        }
    }
    std::vector<fs::path> files;
    std::error_code none;
    for (const auto& entry : fs::directory_iterator(options.baseline, none)) {
        if (!names.contains(entry.path().stem().string())) {
            files.push_back(entry.path());
        }
    }
    std::ranges::sort(files);
    return files;
}

void accept(const Arguments& arguments, const std::vector<Result>& results, const std::vector<fs::path>& gone) {
    std::size_t count = 0;
    for (const Result& result : results) {
        const bool differs = !passes(result.comparison.verdict);
        if (differs || arguments.all) {
            write_baseline(arguments.options.baseline, result.name, result.fresh);
            ++count;
        }
    }
    if (arguments.options.only.empty()) {
        for (const fs::path& file : gone) {
            fs::remove(file);
            std::printf("removed: %s\n", file.string().c_str());
        }
    }
    std::printf("accepted: %zu of %zu; look at the change with git diff tests/gate/baseline before you commit it\n",
                count, results.size());
}

int exit_code(Verdict verdict) {
    return passes(verdict) ? 0 : verdict == Verdict::inconclusive ? 2 : 1;
}

}  // namespace

int run_gate(int argc, char** argv) {
    for (int n = 1; n < argc; ++n) {
        if (std::strcmp(argv[n], "--help") == 0 || std::strcmp(argv[n], "-h") == 0) {
            std::fputs(help, stdout);
            return 0;
        }
    }
    Arguments arguments = read_arguments(argc, argv);
    if (arguments.options.engine.threads > 0) {
        omp_set_num_threads(arguments.options.engine.threads);
    }
    const auto scenarios = read_scenarios(arguments.scenarios);
    check_names(scenarios, arguments.options);
    const fs::path own_tolerances = fs::path(ECHOLOOM_SOURCES) / "tests/gate";
    const GateTolerances tolerances{
        Tolerances::load(arguments.tolerances.value_or(own_tolerances / "same_echoes.toml")),
        Tolerances::load(arguments.tolerances.value_or(own_tolerances / "other_echoes.toml"))};

    const fs::path scratch = fs::temp_directory_path() / ("echoloom-gate-" + std::to_string(::getpid()));
    const bool own = arguments.options.recordings.empty();
    if (own) {
        arguments.options.recordings = scratch;
    }
    const auto start = std::chrono::steady_clock::now();
    const auto results = run(scenarios, arguments.options, tolerances, print_line);
    if (own) {
        fs::remove_all(scratch);
    }

    std::vector<PairComparison> failed, all;
    for (const Result& result : results) {
        all.push_back(result.comparison);
        if (!passes(result.comparison.verdict)) {
            failed.push_back(result.comparison);
        }
    }
    if (!failed.empty()) {
        std::printf("\n%s", comparison_text(failed, false).c_str());
    }
    const auto gone = orphans(scenarios, arguments.options);
    for (const fs::path& file : gone) {
        std::printf("no longer a scenario: %s\n", file.string().c_str());
    }
    for (const Result& result : results) {
        if (result.picture) {
            std::printf("drawn: %s\n", result.picture->string().c_str());
        }
    }
    if (arguments.junit) {
        write_file(*arguments.junit, comparison_junit(all));
    }
    if (arguments.json) {
        write_file(*arguments.json, comparison_json(all));
    }
    const Verdict verdict = overall(all);
    std::printf("\n%s in %.1f s: %s\n", counted(results.size(), "image").c_str(),
                std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count(),
                verdict_word(verdict).c_str());
    if (arguments.accept) {
        accept(arguments, results, gone);
        return 0;
    }
    return exit_code(verdict);
}

}  // namespace echoloom::gate

int main(int argc, char** argv) {
    try {
        return echoloom::gate::run_gate(argc, argv);
    } catch (const echoloom::Error& error) {
        std::fprintf(stderr, "error: %s\n", error.what());
        return error.exit_code();
    } catch (const std::exception& error) {
        std::fprintf(stderr, "error: %s\n", error.what());
        return 3;
    }
}
