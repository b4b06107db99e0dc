#pragma once
/// What was measured, row by row, as a table for people and as JSON for programs.

#include <optional>
#include <string>
#include <vector>

#include "tests/benchmark/harness.h"

namespace echoloom::benchmark {

struct Goal {
    double bound = 0.0;
    bool at_most = true;  ///< else at least
    bool met(double value) const { return at_most ? value <= bound : value >= bound; }
};
inline Goal at_most(double bound) {
    return {bound, true};
}
inline Goal at_least(double bound) {
    return {bound, false};
}

struct Row {
    std::string group = {};     ///< the word that chooses it on the command line
    std::string stage = {};     ///< what was measured
    std::string workload = {};  ///< on what, in words
    Spread value = {};
    std::string unit = {};  ///< of value and goal: "s", "GFLOP/s", "x" for a ratio, "" for a fraction
    std::string rate = {};  ///< what was reached, with its unit; empty where `value` says it
    std::optional<double> roof_fraction = {};  ///< reached over roof
    std::string roof = {};                     ///< which
    std::optional<Goal> goal = {};             ///< none on small workloads
    std::string note = {};
};

/// What the rows were measured on.
struct Machine {
    std::string processor;
    int threads = 1;
    std::string vector_target;
    std::vector<std::string> warnings;
};

class Report {
  public:
    void add(Row row);
    const std::vector<Row>& rows() const { return rows_; }
    std::string table(const Machine& machine) const;
    std::string json(const Machine& machine) const;

  private:
    std::vector<Row> rows_;
};

/// "0.153 s", "2.41 GB/s": three figures.
std::string in_words(double value, const std::string& unit);

}  // namespace echoloom::benchmark
