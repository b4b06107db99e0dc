// What the machine can do at most, measured in the same run as everything that is held against it.

#include <fftw3.h>
#include <hwy/aligned_allocator.h>
#include <omp.h>

#include <array>
#include <cstdlib>
#include <memory>
#include <vector>

#include "tests/benchmark/bench.h"
#include "tests/benchmark/child.h"
#include "tests/benchmark/roof_kernels.h"

namespace echoloom::benchmark {

namespace {

/// Runs the work on every thread and returns the spread of what all of them did in a second together.
template <class EachThread>
Spread all_threads(const Bench& bench, int threads, double amount, EachThread each_thread) {
    const Spread seconds = repeat(
        [&] {
#pragma omp parallel num_threads(threads)
            each_thread(static_cast<std::size_t>(omp_get_thread_num()));
        },
        bench.rounds(7));
    return rate(amount * threads, seconds);
}

Spread multiply_add_rate(const Bench& bench, int threads) {
    const std::size_t repetitions = bench.options.quick ? 100'000 : 20'000'000;
    const double operations = spin_multiply_add(1) * static_cast<double>(repetitions);
    return all_threads(bench, threads, operations, [&](std::size_t) { spin_multiply_add(repetitions); });
}

Spread own_product_rate(const Bench& bench, int threads) {
    std::vector<std::unique_ptr<MatrixPanels>> panels;
    panels.reserve(static_cast<std::size_t>(threads));
    for (int i = 0; i < threads; ++i) {
        panels.push_back(std::make_unique<MatrixPanels>());
    }
    constexpr auto size = static_cast<double>(matrix_size);
    return all_threads(bench, threads, 8.0 * size * size * size,
                       [&](std::size_t thread) { multiply_panels(*panels[thread]); });
}

double eigen_product_rate(const Bench& bench, int threads) {
    const ChildRun run = run_child({ECHOLOOM_EIGEN_ROOF, std::to_string(threads), std::to_string(bench.rounds(5))});
    return 1e9 * std::atof(run.output.c_str());
}

std::size_t memory_floats(const Bench& bench) {
    return bench.options.quick ? std::size_t{1} << 18 : std::size_t{1} << 26;  // 256 MiB, past most caches
}

Spread read_rate(const Bench& bench, int threads) {
    const std::size_t floats = memory_floats(bench) / static_cast<std::size_t>(threads) / 128 * 128;
    std::vector<std::vector<float>> values(static_cast<std::size_t>(threads), std::vector<float>(floats, 1.0F));
    std::vector<float> sums(values.size());
    return all_threads(bench, threads, 4.0 * static_cast<double>(floats),
                       [&](std::size_t thread) { sums[thread] = read_all(values[thread].data(), floats); });
}

using Floats = hwy::AlignedFreeUniquePtr<float[]>;
Floats aligned_floats(std::size_t count) {
    Floats floats = hwy::AllocateAligned<float>(count);
    std::fill_n(floats.get(), count, 1.0F);
    return floats;
}

Spread triad_rate(const Bench& bench, int threads) {
    const std::size_t floats = memory_floats(bench) / static_cast<std::size_t>(threads) / 128 * 128;
    std::vector<std::array<Floats, 3>> streams;
    streams.reserve(static_cast<std::size_t>(threads));
    for (int i = 0; i < threads; ++i) {
        streams.push_back({aligned_floats(floats), aligned_floats(floats), aligned_floats(floats)});
    }
    return all_threads(bench, threads, 12.0 * static_cast<double>(floats), [&](std::size_t thread) {
        const auto& [a, b, out] = streams[thread];
        triad(a.get(), b.get(), out.get(), floats);
    });
}

Spread interpolation_rate(const Bench& bench, int threads) {
    const std::size_t repetitions = bench.options.quick ? 2'000 : 200'000;
    const double done = spin_interpolation(1) * static_cast<double>(repetitions);
    return all_threads(bench, threads, done, [&](std::size_t) { spin_interpolation(repetitions); });
}

Spread transform_rate(const Bench& bench, int threads) {
    constexpr int length = 4096;
    const int batch = bench.options.quick ? 8 : 256;
    constexpr std::size_t bins = length / 2 + 1;
    const auto count = static_cast<std::size_t>(batch);
    std::vector<Floats> in;
    std::vector<Floats> out;
    for (int i = 0; i < threads; ++i) {
        in.push_back(aligned_floats(count * length));
        out.push_back(aligned_floats(count * 2 * bins));
    }
    const auto spectra = [&](std::size_t thread) { return reinterpret_cast<fftwf_complex*>(out[thread].get()); };
    const fftwf_plan plan = fftwf_plan_many_dft_r2c(1, &length, batch, in[0].get(), nullptr, 1, length, spectra(0),
                                                    nullptr, 1, static_cast<int>(bins), FFTW_ESTIMATE);
    const Spread result = all_threads(bench, threads, batch, [&](std::size_t thread) {
        fftwf_execute_dft_r2c(plan, in[thread].get(), spectra(thread));
    });
    fftwf_destroy_plan(plan);
    return result;
}

struct RoofName {
    const char* stage;
    const char* workload;
    const char* unit;
    double scale;
};

RoofName name_of(Roof kind) {
    switch (kind) {
        case Roof::multiply_add:
            return {"multiply-add", "float, in registers", "GFLOP/s", 1e-9};
        case Roof::matrix_product:
            return {"matrix product", "complex float, 1024 x 1024", "GFLOP/s", 1e-9};
        case Roof::memory_read:
            return {"memory read", "256 MiB", "GB/s", 1e-9};
        case Roof::memory_triad:
            return {"memory triad", "3 x 256 MiB, streaming stores", "GB/s", 1e-9};
        case Roof::interpolation:
            return {"interpolation", "linear, float, in the first cache", "per ns", 1e-9};
        case Roof::transform:
            return {"Fourier transform", "real float, 4,096 samples", "per ms", 1e-3};
    }
    return {};
}

Spread measure(const Bench& bench, Roof kind, int threads, std::string& note) {
    switch (kind) {
        case Roof::multiply_add:
            return multiply_add_rate(bench, threads);
        case Roof::matrix_product: {
            const Spread own = own_product_rate(bench, threads);
            const double eigen = eigen_product_rate(bench, threads);
            note = "Eigen " + in_words(eigen * 1e-9, "GFLOP/s") + ", packed panels " +
                   in_words(own.median * 1e-9, "GFLOP/s") + "; the better counts";
            return own.median > eigen ? own : Spread{eigen, eigen, eigen};
        }
        case Roof::memory_read:
            return read_rate(bench, threads);
        case Roof::memory_triad:
            return triad_rate(bench, threads);
        case Roof::interpolation:
            return interpolation_rate(bench, threads);
        case Roof::transform:
            return transform_rate(bench, threads);
    }
    return {};
}

}  // namespace

double Bench::roof(Roof kind, int threads) {
    const auto found = roofs.find({kind, threads});
    if (found != roofs.end()) {
        return found->second;
    }
    std::string note;
    const Spread reached = measure(*this, kind, threads, note);
    const RoofName name = name_of(kind);
    const std::string on = threads == 1 ? ", 1 thread" : ", " + std::to_string(threads) + " threads";
    report.add({.group = "roofs",
                .stage = name.stage,
                .workload = name.workload + on,
                .value = {reached.median * name.scale, reached.least * name.scale, reached.most * name.scale},
                .unit = name.unit,
                .note = note});
    return roofs[{kind, threads}] = reached.median;
}

void measure_roofs(Bench& bench) {
    for (const Roof kind : {Roof::multiply_add, Roof::matrix_product, Roof::memory_read, Roof::memory_triad,
                            Roof::interpolation, Roof::transform}) {
        bench.roof(kind, 1);
        if (bench.options.threads > 1) {
            bench.roof(kind, bench.options.threads);
        }
    }
}

}  // namespace echoloom::benchmark
