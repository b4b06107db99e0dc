// Measures the machine's roofs and the product's stages in one run. tools/benchmark builds and starts it.

#include <omp.h>

#include <algorithm>
#include <cstdio>
#include <exception>
#include <functional>
#include <string>

#include "sim/base/atomic_file.h"
#include "sim/base/error.h"
#include "tests/benchmark/bench.h"
#include "tests/benchmark/machine.h"

namespace {

using namespace echoloom;
using namespace echoloom::benchmark;

struct Group {
    std::string name;
    std::function<void(Bench&)> measure;
};

/// Memory first: what a child had at most is not told below what we had (child.h).
const std::vector<Group>& groups() {
    static const std::vector<Group> all{
        {"memory", measure_memory}, {"startup", measure_startup},       {"echoes", measure_echoes},
        {"cost", measure_cost},     {"images", measure_images},         {"files", measure_files},
        {"roofs", measure_roofs},   {"echo_twins", measure_echo_twins}, {"image_twins", measure_image_twins},
    };
    return all;
}

int whole_number(const std::string& option, const std::string& text) {
    std::size_t used = 0;
    int value = 0;
    try {
        value = std::stoi(text, &used);
    } catch (const std::exception&) {
        used = 0;
    }
    if (used == 0 || used != text.size() || value < 1) {
        throw InputError({option}, "needs a whole number of 1 or more, not '" + text + "'");
    }
    return value;
}

Options read_options(const std::vector<std::string>& words) {
    Options options;
    options.program = ECHOLOOM_PROGRAM;
    for (std::size_t i = 0; i < words.size(); ++i) {
        const std::string& word = words[i];
        const auto value = [&] {
            if (i + 1 == words.size()) {
                throw InputError({word}, "needs a value");
            }
            return words[++i];
        };
        if (word == "--help" || word == "-h") {
            options.help = true;
        } else if (word == "--quick") {
            options.quick = true;
        } else if (word == "--full") {
            options.full = true;
        } else if (word == "--threads") {
            options.threads = whole_number(word, value());
        } else if (word == "--json") {
            options.json = value();
        } else if (word == "--echoloom") {
            options.program = value();
        } else if (std::ranges::find(groups(), word, &Group::name) != groups().end()) {
            options.groups.push_back(word);
        } else {
            std::string known;
            for (const Group& group : groups()) {
                known += ' ' + group.name;
            }
            throw InputError({word},
                             "is not known; there are --quick, --full, --threads N, --json FILE, --echoloom "
                             "PROGRAM and" +
                                 known);
        }
    }
    if (options.threads == 0) {
        options.threads = omp_get_num_procs();
    }
    return options;
}

/// A folder that is gone when the run is over.
class TemporaryFolder {
  public:
    TemporaryFolder() {
        std::string name = (std::filesystem::temp_directory_path() / "echoloom-benchmark-XXXXXX").string();
        if (mkdtemp(name.data()) == nullptr) {
            throw MachineError(name + ": no temporary folder can be made");
        }
        path_ = name;
    }
    ~TemporaryFolder() {
        std::error_code ignored;
        std::filesystem::remove_all(path_, ignored);
    }
    TemporaryFolder(const TemporaryFolder&) = delete;
    TemporaryFolder& operator=(const TemporaryFolder&) = delete;
    const std::filesystem::path& path() const { return path_; }

  private:
    std::filesystem::path path_;
};

constexpr const char* help =
    R"(Measures this machine's limits and how close the program comes to them; prints a table.
  echoloom_benchmark [memory|startup|echoes|cost|images|files|roofs|echo_twins|image_twins ...]   default: all
    --quick              small workloads, once each: only to see that everything runs
    --full               the Python twins on whole workloads (an hour), not on a share of them
    --threads N          default: every processor
    --json FILE          the table for programs
    --echoloom PROGRAM   the command to measure
)";

void run(const std::vector<std::string>& words) {
    Bench bench{
        .options = read_options(words), .report = {}, .sources = ECHOLOOM_SOURCES, .temporary = {}, .roofs = {}};
    if (bench.options.help) {
        std::fputs(help, stdout);
        return;
    }
    const TemporaryFolder temporary;
    bench.temporary = temporary.path();
    omp_set_num_threads(bench.options.threads);
    Machine machine = describe_machine(bench.options.threads);
    std::exception_ptr failure;  // what was measured until then is still told
    for (const Group& group : groups()) {
        const bool wanted = bench.options.groups.empty() ||
                            std::ranges::find(bench.options.groups, group.name) != bench.options.groups.end();
        try {
            if (wanted) {
                group.measure(bench);
            }
        } catch (const Error&) {
            failure = std::current_exception();
            break;
        }
    }
    if (bench.options.quick) {
        machine.warnings.push_back("workloads are small, each ran once: the figures mean nothing");
    } else {
        warn_of_spread(bench.report, machine);
    }
    std::fputs(bench.report.table(machine).c_str(), stdout);
    if (!bench.options.json.empty()) {
        write_file(bench.options.json, bench.report.json(machine));
    }
    if (failure) {
        std::rethrow_exception(failure);
    }
}

}  // namespace

int main(int argc, char** argv) {
    try {
        run({argv + 1, argv + argc});
        return 0;
    } catch (const Error& error) {
        std::fprintf(stderr, "error: %s\n", error.what());
        return error.exit_code();
    } catch (const std::exception& error) {
        std::fprintf(stderr, "error: %s\n", error.what());
        return 3;
    }
}
