#include "tests/benchmark/twins.h"

#include <array>
#include <cstdio>
#include <nlohmann/json.hpp>

#include "sim/base/atomic_file.h"
#include "sim/base/error.h"
#include "tests/benchmark/child.h"

namespace echoloom::benchmark {

namespace {

constexpr const char* python = "/usr/bin/python3";

/// Version 1.0 of the format (NumPy's documentation of numpy.lib.format).
std::string npy_header(const std::string& type, const std::vector<std::size_t>& shape) {
    std::string extents;
    for (const std::size_t extent : shape) {
        extents += std::to_string(extent) + ", ";
    }
    std::string text = "{'descr': '" + type + "', 'fortran_order': False, 'shape': (" + extents + "), }";
    constexpr std::size_t start = 10;
    text.append((64 - (start + text.size() + 1) % 64) % 64, ' ');
    text += '\n';
    std::string header = "\x93NUMPY";
    header += '\x01';
    header += '\x00';
    header += static_cast<char>(text.size() & 0xffU);
    header += static_cast<char>(text.size() >> 8U);
    return header + text;
}

template <class Value>
void write(const std::filesystem::path& folder, const std::string& name, const std::string& type,
           std::span<const Value> values, const std::vector<std::size_t>& shape) {
    std::string bytes = npy_header(type, shape);
    bytes.append(reinterpret_cast<const char*>(values.data()), values.size_bytes());
    write_file(folder / (name + ".npy"), bytes);
}

std::string percent(double share) {
    std::array<char, 32> text{};
    std::snprintf(text.data(), text.size(), "%.3g %%", 100.0 * share);
    return text.data();
}

std::string note_of(const Twin& twin, const TwinAnswer& answer) {
    std::array<char, 64> text{};
    std::snprintf(text.data(), text.size(), "results differ by %.2g", answer.error);
    std::string note = text.data();
    if (twin.largest_error > 0.0) {
        std::snprintf(text.data(), text.size(), ", allowed %.2g", twin.largest_error);
        note += text.data();
    }
    if (answer.done < 1.0) {
        note += "; timed on " + percent(answer.done) + " of the work and scaled";
    }
    return note;
}

}  // namespace

void write_npy(const std::filesystem::path& folder, const std::string& name, std::span<const float> values,
               const std::vector<std::size_t>& shape) {
    write(folder, name, "<f4", values, shape);
}

void write_npy(const std::filesystem::path& folder, const std::string& name, std::span<const double> values,
               const std::vector<std::size_t>& shape) {
    write(folder, name, "<f8", values, shape);
}

void write_case(const std::filesystem::path& folder, const nlohmann::json& facts) {
    write_file(folder / "case.json", facts.dump(2));
}

TwinAnswer run_twin(const Bench& bench, const std::string& script, const std::filesystem::path& folder,
                    double fraction) {
    const std::string threads = std::to_string(bench.options.threads);
    const ChildRun run = run_child(
        {python, "-B", bench.script(script).string(), folder.string(), "--fraction", std::to_string(fraction)},
        {{"OMP_NUM_THREADS", threads}, {"OPENBLAS_NUM_THREADS", threads}, {"NUMBA_NUM_THREADS", threads}});
    const auto said = nlohmann::json::parse(run.output);
    return {said.at("seconds"), said.value("fixed_seconds", 0.0), said.at("done"), said.at("error")};
}

bool python_has(const std::string& module) {
    try {
        run_child(
            {python, "-c", "import importlib.util, sys; sys.exit(importlib.util.find_spec('" + module + "') is None)"});
        return true;
    } catch (const MachineError&) {
        return false;
    }
}

void add_ratios(Bench& bench, const std::string& group, const std::string& words, const Work& product,
                const std::filesystem::path& folder, std::span<const Twin> twins) {
    std::vector<TwinAnswer> answers(twins.size());
    std::vector<Work> works{product};
    for (std::size_t i = 0; i < twins.size(); ++i) {
        works.emplace_back([&, i] {
            answers[i] = run_twin(bench, twins[i].script, folder, twins[i].fraction);
            return answers[i].whole_seconds();
        });
    }
    product();  // warm; the scripts warm themselves where that matters
    const auto seconds = in_turns(works, bench.rounds(3), false);
    for (std::size_t i = 0; i < twins.size(); ++i) {
        const Twin& twin = twins[i];
        if (twin.largest_error > 0.0 && !(answers[i].error <= twin.largest_error)) {
            throw MachineError(twin.script + " and the product differ by " + percent(answers[i].error) + " on " +
                               words + "; allowed " + percent(twin.largest_error));
        }
        bench.report.add({.group = group,
                          .stage = "times faster than " + twin.name,
                          .workload = words,
                          .value = ratio(seconds[i + 1], seconds[0]),
                          .unit = "x",
                          .rate = in_words(spread(seconds[i + 1]).median, "s") + " against " +
                                  in_words(spread(seconds[0]).median, "s"),
                          .goal = bench.options.quick ? std::nullopt : twin.goal,
                          .note = note_of(twin, answers[i])});
    }
}

}  // namespace echoloom::benchmark
