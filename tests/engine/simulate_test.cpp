#include "sim/engine/simulate.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "sim/engine/full_matrix.h"
#include "sim/engine/noise.h"
#include "tests/engine/scenes.h"

namespace echoloom {
namespace {

using scenes::echoes;
using scenes::relative_error;

std::vector<float> trace(const std::vector<float>& all, const Scan& scan, std::size_t event, std::size_t channel) {
    const auto from = all.begin() + static_cast<std::ptrdiff_t>((event * scan.channels() + channel) * scan.samples);
    return {from, from + static_cast<std::ptrdiff_t>(scan.samples)};
}

TEST(Simulate, SameBitsOnAnyThreadCountAndBlockSize) {
    const Probe probe = scenes::array();
    const Phantom phantom = scenes::crowd();
    for (const Scan& scan : {scenes::full_matrix(probe), scenes::focused(probe)}) {
        const std::vector<float> one = echoes(phantom, probe, scan, {.threads = 1});
        EXPECT_GT(*std::max_element(one.begin(), one.end()), 0.0F);
        for (const int threads : {2, 3}) {
            EXPECT_EQ(one, echoes(phantom, probe, scan, {.threads = threads}));
        }
        for (const std::size_t cells : {1U, 2U, 7U}) {
            EXPECT_EQ(one, echoes(phantom, probe, scan, {.threads = 2, .cells_per_block = cells}));
        }
    }
}

TEST(Simulate, SameBitsHoweverManyScatterersAreHeld) {
    const Probe probe = scenes::array();
    const Phantom phantom = scenes::crowd();
    const Scan scan = scenes::full_matrix(probe);
    const auto filled = [&](std::size_t held) {
        const EngineContext context =
            engine_context(probe, {probe.pulse}, phantom.medium, scan.sampling_rate_Hz, 0.06, 3e-4);
        PairRecord record;
        record.pairs = needed_pairs(scan, probe.elements.size());
        record.wanted = wanted_samples(scan);
        record.first_sample = record.wanted.first - 2000;
        record.samples = static_cast<std::size_t>(record.wanted.last + 2000 - record.first_sample);
        record.data.assign(record.pairs.count() * record.samples, 0.0F);
        FullMatrixWork work;
        work.responses_bytes = 50'000'000;
        work.scatterers_in_memory = held;
        fill_full_matrix(phantom, context, CellGrid(phantom.bounds(), 1e-3), work, record);
        return record.data;
    };
    EXPECT_EQ(filled(10'000'000), filled(700));
}

TEST(Simulate, EchoesOfTwoPhantomsAdd) {
    const Probe probe = scenes::array();
    const Scan scan = scenes::focused(probe);
    const Scatterer a{1e-3, 0.5e-3, 9e-3, 1e-3};
    const Scatterer b{-2e-3, 0.0, 14e-3, -2e-3};
    const std::vector<float> both = echoes(scenes::points({a, b}), probe, scan);
    std::vector<float> sum = echoes(scenes::points({a}), probe, scan);
    const std::vector<float> other = echoes(scenes::points({b}), probe, scan);
    std::transform(sum.begin(), sum.end(), other.begin(), sum.begin(), std::plus<>());
    EXPECT_LT(relative_error(both, sum), 3e-4);
}

TEST(Simulate, IsReciprocal) {
    const Probe probe = scenes::array();
    const Scan scan = scenes::full_matrix(probe);
    const std::vector<float> all = echoes(scenes::crowd(), probe, scan);
    EXPECT_EQ(trace(all, scan, 3, 30), trace(all, scan, 30, 3));
}

/// A single small element without a lens, whose echo is the pulse itself to a good approximation.
Probe small_element() {
    Probe probe;
    probe.center_Hz = 5e6;
    probe.bandwidth_fraction = 0.6;
    probe.pulse = GaussianPulse{5e6, 0.6};
    probe.pitch_m = 0.1e-3;
    probe.elements.push_back({});
    probe.elements[0].width_m = 0.1e-3;
    probe.elements[0].height_m = 0.1e-3;
    return probe;
}

// Zero phase: the RF peaks at exactly twice the distance over c. A parabola through the three samples about the peak of
// a 5 MHz cosine sampled at 40 MHz is right to a hundredth of a sample or so.
TEST(Simulate, EchoArrivesWhenItShould) {
    const Probe probe = small_element();
    const Scan scan = scenes::full_matrix(probe);
    for (const double depth_m : {15e-3, 15.004e-3, 15.01e-3}) {
        const std::vector<float> all = echoes(scenes::points({{0.0, 0.0, depth_m, 1e-3}}, 0.0), probe, scan);
        const auto peak = std::max_element(all.begin(), all.end());
        const double before = static_cast<double>(peak[-1]);
        const double after = static_cast<double>(peak[1]);
        const double shift = 0.5 * (before - after) / (before - 2.0 * static_cast<double>(*peak) + after);
        const double expected = (2.0 * depth_m / 1540.0 - scan.events[0].start_time_s) * 40e6;
        EXPECT_NEAR(static_cast<double>(peak - all.begin()) + shift, expected, 0.03) << depth_m;
    }
}

TEST(Simulate, DeadElementsNeitherTransmitNorReceive) {
    const Probe probe = scenes::array(41, "[faults]\ndead = [0]\n");
    const Scan scan = scenes::full_matrix(probe);
    const std::vector<float> all = echoes(scenes::points({{0.0, 0.0, 15e-3, 1e-3}}, 0.0), probe, scan);
    for (std::size_t channel = 0; channel < 41; ++channel) {
        const std::vector<float> transmitted = trace(all, scan, 0, channel);
        const std::vector<float> received = trace(all, scan, channel, 0);
        EXPECT_TRUE(std::all_of(transmitted.begin(), transmitted.end(), [](float s) { return s == 0.0F; }));
        EXPECT_TRUE(std::all_of(received.begin(), received.end(), [](float s) { return s == 0.0F; }));
    }
}

// A pulse given as samples at 25 MHz and the same pulse given by its formula, for a start on the sampling grid (rows of
// the matrix as they are) and off it (synthesis).
TEST(Simulate, SampledPulseEqualsItsFormula) {
    Probe formula = small_element();
    Probe sampled = formula;
    SampledPulse samples{25e6, -40.0 / 25e6, {}};
    for (int n = 0; n <= 80; ++n) {
        const double t = samples.start_s + n / 25e6;
        const double sigma = std::sqrt(2.0 * std::log(2.0)) / (std::numbers::pi * 0.6 * 5e6);
        samples.samples.push_back(std::exp(-t * t / (2.0 * sigma * sigma)) *
                                  std::cos(2.0 * std::numbers::pi * 5e6 * t));
    }
    sampled.pulse = samples;
    const Phantom phantom = scenes::points({{0.0, 0.0, 12e-3, 1e-3}}, 0.5);
    for (const double start : {0.0, 0.3}) {
        Scan scan = scenes::full_matrix(formula);
        scan.events[0].start_time_s += start / scan.sampling_rate_Hz;
        EXPECT_LT(relative_error(echoes(phantom, sampled, scan), echoes(phantom, formula, scan)), 1e-3) << start;
    }
}

/// A focused event is the weighted, delayed sum of the rows of the full matrix: here by linear algebra on whole-sample
/// delays, which need no interpolation.
TEST(Simulate, FocusedEventIsASumOfRows) {
    const Probe probe = scenes::array();
    const Phantom phantom = scenes::crowd();
    const Scan matrix = scenes::full_matrix(probe);
    Scan scan = matrix;
    scan.events = {matrix.events[0]};
    TransmitEvent& event = scan.events[0];
    std::fill(event.weight.begin(), event.weight.end(), 0.0);
    event.start_time_s = 40.0 / matrix.sampling_rate_Hz;
    scan.samples = matrix.samples - 100;
    for (std::size_t e = 5; e < 15; ++e) {
        event.weight[e] = 0.1 * static_cast<double>(e);
        event.delay_s[e] = (static_cast<double>(e) - 8.0) / matrix.sampling_rate_Hz;
    }
    const std::vector<float> rows = echoes(phantom, probe, matrix);
    const std::vector<float> got = echoes(phantom, probe, scan);
    std::vector<float> want(got.size(), 0.0F);
    const auto first =
        static_cast<std::ptrdiff_t>(std::lround(matrix.events[0].start_time_s * matrix.sampling_rate_Hz));
    for (std::size_t channel = 0; channel < scan.channels(); ++channel) {
        for (std::size_t e = 5; e < 15; ++e) {
            const std::vector<float> row = trace(rows, matrix, e, channel);
            const std::ptrdiff_t shift = 40 - (static_cast<std::ptrdiff_t>(e) - 8) - first;
            for (std::size_t n = 0; n < scan.samples; ++n) {
                const std::ptrdiff_t from = static_cast<std::ptrdiff_t>(n) + shift;
                if (from >= 0 && from < static_cast<std::ptrdiff_t>(row.size())) {
                    want[channel * scan.samples + n] +=
                        static_cast<float>(event.weight[e]) * row[static_cast<std::size_t>(from)];
                }
            }
        }
    }
    EXPECT_LT(relative_error(got, want), 2e-4);
}

TEST(Simulate, RefusesWhatDoesNotFitBeforeItBegins) {
    const Probe probe = scenes::array();
    try {
        echoes(scenes::crowd(), probe, scenes::full_matrix(probe), {.memory_limit_bytes = 1e6});
        FAIL() << "was not refused";
    } catch (const MachineError& error) {
        EXPECT_NE(std::string(error.what()).find("--memory-gib"), std::string::npos) << error.what();
        EXPECT_NE(std::string(error.what()).find("MiB"), std::string::npos) << error.what();
    }
}

TEST(Noise, HasTheStatedLevelAndDependsOnItsSeedAlone) {
    std::vector<float> samples(100000, 0.0F);
    add_noise(samples, 0.5, 1, 0);
    double squares = 0.0;
    for (float s : samples) {
        squares += static_cast<double>(s) * static_cast<double>(s);
    }
    EXPECT_NEAR(std::sqrt(squares / 100000.0), 0.5, 0.5 * 3.0 / std::sqrt(2.0 * 100000.0));
    std::vector<float> again(100000, 0.0F);
    add_noise(again, 0.5, 1, 0);
    EXPECT_EQ(samples, again);
    std::vector<float> other(100000, 0.0F);
    add_noise(other, 0.5, 2, 0);
    EXPECT_NE(samples, other);
}

TEST(Noise, QuantizationKeepsWholeSteps) {
    std::vector<float> samples{-2.0F, -0.99F, -0.1F, 0.0F, 0.26F, 0.74F, 1.0F};
    quantize(samples, 1.0, 3);  // steps of a third
    const std::vector<float> want{-1.0F, -1.0F, 0.0F, 0.0F, 1.0F / 3.0F, 2.0F / 3.0F, 1.0F};
    for (std::size_t i = 0; i < samples.size(); ++i) {
        EXPECT_FLOAT_EQ(samples[i], want[i]);
    }
}

}  // namespace
}  // namespace echoloom
