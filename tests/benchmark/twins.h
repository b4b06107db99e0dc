#pragma once
/// The same work done by plain Python scripts under tests/reference: data handed over in a folder, answers read back.

#include <nlohmann/json_fwd.hpp>
#include <span>

#include "tests/benchmark/bench.h"

namespace echoloom::benchmark {

/// Writes FOLDER/NAME.npy, C order.
void write_npy(const std::filesystem::path& folder, const std::string& name, std::span<const float> values,
               const std::vector<std::size_t>& shape);
void write_npy(const std::filesystem::path& folder, const std::string& name, std::span<const double> values,
               const std::vector<std::size_t>& shape);
void write_case(const std::filesystem::path& folder, const nlohmann::json& facts);

/// What tests/reference/timing.py says.
struct TwinAnswer {
    double seconds = 0.0;
    double fixed_seconds = 0.0;  ///< of these, what does not grow with the share that was done
    double done = 1.0;           ///< share of the work
    double error = 0.0;          ///< relative, between the product's result and the script's

    double whole_seconds() const { return fixed_seconds + (seconds - fixed_seconds) / done; }
};
TwinAnswer run_twin(const Bench& bench, const std::string& script, const std::filesystem::path& folder,
                    double fraction);

/// Whether Debian's Python here has a module.
bool python_has(const std::string& module);

/// One twin timed beside the product, in turns.
struct Twin {
    std::string name;    ///< "NumPy"
    std::string script;  ///< a file of tests/reference
    double fraction = 1.0;
    double largest_error = 0.0;  ///< allowed; a larger one is a failure. 0: it is only told
    std::optional<Goal> goal;    ///< of the ratio
};
/// Adds a row for each: seconds of the whole work over the product's, and the error.
void add_ratios(Bench& bench, const std::string& group, const std::string& words, const Work& product,
                const std::filesystem::path& folder, std::span<const Twin> twins);

}  // namespace echoloom::benchmark
