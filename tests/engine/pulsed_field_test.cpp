#include "sim/engine/pulsed_field.h"

#include <gtest/gtest.h>
#include <hwy/highway.h>
#include <hwy/targets.h>
#include <omp.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "sim/array/delay_law.h"
#include "sim/array/face.h"
#include "sim/array/scan_events.h"
#include "sim/array/transmit.h"
#include "sim/engine/beam_field.h"
#include "sim/engine/phasor_sum.h"
#include "sim/engine/simulate.h"

namespace echoloom {
namespace {

using std::numbers::pi;
using Complex = std::complex<double>;

constexpr double c = 1540.0;
constexpr double mm = 1e-3;

Probe probe_of(std::vector<Element> elements, double center_Hz, double bandwidth) {
    Probe probe;
    probe.center_Hz = center_Hz;
    probe.bandwidth_fraction = bandwidth;
    probe.pulse = GaussianPulse{center_Hz, bandwidth};
    probe.elements = std::move(elements);
    return probe;
}

Probe row(std::size_t count, double bandwidth) {
    Probe probe = probe_of(flat_face(count, 0.3 * mm, 0.27 * mm, 1, 0.0, 5.0 * mm), 5e6, bandwidth);
    probe.pitch_m = 0.3 * mm;
    return probe;
}

ElementDrive all_at_once(const Probe& probe) {
    return {std::vector<double>(probe.elements.size(), 1.0), std::vector<double>(probe.elements.size(), 0.0)};
}

/// Standard deviation of the one-way Gaussian's envelope: its spectrum is the root of the two-way one.
double one_way_sigma_s(const Probe& probe) {
    const double sigma_Hz =
        std::sqrt(2.0) * probe.bandwidth_fraction * probe.center_Hz / (2.0 * std::sqrt(2.0 * std::numbers::ln2));
    return 1.0 / (2.0 * pi * sigma_Hz);
}

// On the axis of a disc h is a box from z / c to sqrt(z^2 + a^2) / c (P. R. Stepanishen, J. Acoust. Soc. Am. 49,
// 1629-1638, 1971, formula from memory), so the pressure is the pulse integrated over that box.
TEST(PulsedField, AxisOfADisc) {
    const double edges[] = {0.0, 5.0 * mm};
    Probe disc = probe_of(ring_face(edges), 3e6, 0.4);
    const PulsedField field(disc, std::nullopt, 0.0, Medium{});
    const double sigma_s = one_way_sigma_s(disc);
    const double k0 = 2.0 * pi * 3e6 / c;
    for (const double z : {5.0 * mm, 20.0 * mm, 48.57 * mm, 100.0 * mm}) {
        const double first_s = z / c;
        const double last_s = std::hypot(z, 5.0 * mm) / c;
        double want = 0.0;
        std::vector<double> instants;
        std::vector<double> pressures;
        for (double t = first_s - 5.0 * sigma_s; t < last_s + 5.0 * sigma_s; t += 4e-9) {
            Complex sum;
            const int steps = 4000;
            for (int i = 0; i < steps; ++i) {
                const double since = t - (first_s + (last_s - first_s) * (i + 0.5) / steps);
                sum += std::exp(-0.5 * since * since / (sigma_s * sigma_s)) * std::polar(1.0, 2.0 * pi * 3e6 * since);
            }
            sum *= k0 * c * (last_s - first_s) / steps;
            want = std::max(want, std::abs(sum));
            instants.push_back(t);
            pressures.push_back(sum.real());
        }
        // The spectrum is cut at 1e-3 of its peak, and the box favours its lowest frequencies.
        EXPECT_NEAR(field.peak(Vec3(0, 0, z), all_at_once(disc)) / want, 1.0, 2.5e-3) << z;
        std::vector<float> found(instants.size());
        field.pressures(Vec3(0, 0, z), all_at_once(disc), instants, found);
        for (std::size_t i = 0; i < instants.size(); ++i) {
            ASSERT_NEAR(static_cast<double>(found[i]), pressures[i], 6e-3 * want) << z << ' ' << instants[i];
        }
    }
}

/// Impulse response of a rectangle a x b (m/s): angle of the circle of radius sqrt(c^2 t^2 - z^2) inside it, from its
/// corners (J. C. Lockwood & J. G. Willette, J. Acoust. Soc. Am. 53, 735-741, 1973, from memory; derived again, and
/// held to quadrature by tests/reference/check_brute_force.py).
double rectangle_response(double a, double b, const Vec3& p, double t) {
    const double square = c * c * t * t - p.z() * p.z();
    if (square <= 0.0) {
        return 0.0;
    }
    const double sigma = std::sqrt(square);
    const auto corner = [&](double x, double y) {
        const double inside = std::max(
            0.0, std::asin(std::min(1.0, std::abs(y) / sigma)) - std::acos(std::min(1.0, std::abs(x) / sigma)));
        return (x < 0.0) == (y < 0.0) ? inside : -inside;
    };
    const double x1 = -0.5 * a - p.x();
    const double x2 = 0.5 * a - p.x();
    const double y1 = -0.5 * b - p.y();
    const double y2 = 0.5 * b - p.y();
    return c / (2.0 * pi) * (corner(x2, y2) - corner(x1, y2) - corner(x2, y1) + corner(x1, y1));
}

TEST(PulsedField, RectangleAgainstItsImpulseResponse) {
    for (const Baffle baffle : {Baffle::rigid, Baffle::soft}) {
        Probe one = probe_of(flat_face(1, 0.3 * mm, 0.3 * mm, 1, 0.0, 5.0 * mm), 5e6, 0.4);
        one.baffle = baffle;
        const PulsedField field(one, std::nullopt, 0.0, Medium{});
        const double sigma_s = one_way_sigma_s(one);
        const double k0 = 2.0 * pi * 5e6 / c;
        for (const Vec3& p : {Vec3(0, 0, 20 * mm), Vec3(5 * mm, 0, 20 * mm), Vec3(2 * mm, 1 * mm, 6 * mm)}) {
            constexpr double step_s = 5e-11;
            const double near_s = p.z() / c;
            const double far_s = Vec3(std::abs(p.x()) + 0.15 * mm, std::abs(p.y()) + 2.5 * mm, p.z()).norm() / c;
            double want = 0.0;
            for (double t = near_s - 4.0 * sigma_s; t < far_s + 4.0 * sigma_s; t += 4e-9) {
                Complex sum;
                for (double at = near_s + 0.5 * step_s; at < far_s; at += step_s) {
                    const double factor = baffle == Baffle::soft ? p.z() / (c * at) : 1.0;
                    const double since = t - at;
                    sum += factor * rectangle_response(0.3 * mm, 5 * mm, p, at) *
                           std::exp(-0.5 * since * since / (sigma_s * sigma_s)) *
                           std::polar(1.0, 2.0 * pi * 5e6 * since);
                }
                want = std::max(want, std::abs(sum) * k0 * step_s);
            }
            EXPECT_NEAR(field.peak(p, all_at_once(one)) / want, 1.0, 2e-3) << p.transpose();
        }
    }
}

// A pulse so long that all elements overlap is a continuous wave, which field.h computes by code of its own.
TEST(PulsedField, LongPulseIsAContinuousWave) {
    Probe probe = row(16, 0.001);
    probe.elevation_focus_m = 30.0 * mm;
    probe.baffle = Baffle::soft;
    TransmitEvent event;
    event.weight.assign(16, 1.0);
    event.weight[3] = 0.4;
    event.delay_s = focusing_delays(probe.elements, Vec3::Zero(), Vec3(5 * mm, 0, 20 * mm), c);
    Medium lossy;
    lossy.attenuation_dB_cm_MHz = 0.5;
    const TransmittedField wave(probe, std::nullopt, event, lossy, 5e6);
    const PulsedField pulse(probe, std::nullopt, 0.0, lossy);
    for (const Vec3& p : {Vec3(5 * mm, 0, 20 * mm), Vec3(0, 0, 8 * mm), Vec3(-4 * mm, 1.5 * mm, 15 * mm)}) {
        const double want = wave.amplitude(p);
        EXPECT_NEAR(pulse.peak(p, drive_of(event)), want, 1e-3 * want) << p.transpose();
    }
}

/// Peak of the envelope of real samples, by Fourier sums of the positive frequencies.
double envelope_peak(std::span<const float> samples) {
    const std::size_t n = samples.size();
    std::vector<Complex> analytic(n);
    for (std::size_t k = 1; k < n / 2; ++k) {
        Complex bin;
        for (std::size_t i = 0; i < n; ++i) {
            bin += static_cast<double>(samples[i]) *
                   std::polar(1.0, -2.0 * pi * static_cast<double>(k * i % n) / static_cast<double>(n));
        }
        for (std::size_t i = 0; i < n; ++i) {
            analytic[i] += 2.0 / static_cast<double>(n) * bin *
                           std::polar(1.0, 2.0 * pi * static_cast<double>(k * i % n) / static_cast<double>(n));
        }
    }
    double peak = 0.0;
    for (const Complex& value : analytic) {
        peak = std::max(peak, std::abs(value));
    }
    return peak;
}

// Both ways are what the echo engine makes of a point, which shares no code with this but the lens.
TEST(PulsedField, BothWaysAreTheEchoOfAPoint) {
    Probe probe = row(12, 0.6);
    probe.elevation_focus_m = 25.0 * mm;
    const Vec3 point(1.5 * mm, 0, 12 * mm);
    TransmitEvent event;
    event.kind = TransmitKind::focused;
    event.focus_m = Vec3(0, 0, 15 * mm);
    event.weight.assign(12, 1.0);
    event.delay_s = focusing_delays(probe.elements, Vec3::Zero(), event.focus_m, c);
    event.receivers = {9};
    Scan scan;
    scan.sampling_rate_Hz = 160e6;
    scan.min_depth_m = 9 * mm;
    scan.max_depth_m = 14 * mm;
    scan.events = {event};
    set_sample_times(probe, scan);
    Phantom phantom;
    phantom.medium.attenuation_dB_cm_MHz = 0.5;
    phantom.targets = {{point, 1 * mm, 0.0, 1}};
    std::vector<float> samples;
    EngineSettings quiet;
    quiet.quiet = true;
    simulate(phantom, probe, scan, quiet,
             [&](std::size_t, std::span<const float> received) { samples.assign(received.begin(), received.end()); });
    const double k0 = 2.0 * pi * 5e6 / c;
    ElementDrive received = all_at_once(probe);
    std::ranges::fill(received.weight, 0.0);
    received.weight[9] = 1.0;
    const PulsedField field(probe, std::nullopt, 0.0, phantom.medium);
    const double found = field.peak(point, drive_of(event), received) / (k0 * k0);
    EXPECT_NEAR(found / (envelope_peak(samples) / (1 * mm)), 1.0, 2e-3);
}

TEST(PulsedField, PressureIsSilentBeforeAndAfter) {
    const Probe probe = row(8, 0.6);
    const PulsedField field(probe, std::nullopt, 0.0, Medium{});
    const ElementDrive drive = all_at_once(probe);
    const Vec3 point(2 * mm, 0, 10 * mm);
    std::vector<double> instants;
    instants.reserve(4000);
    for (int i = 0; i < 4000; ++i) {
        instants.push_back(4e-6 + i * 1.5e-9);
    }
    std::vector<float> pressure(instants.size());
    field.pressures(point, drive, instants, pressure);
    EXPECT_EQ(pressure.front(), 0.0F);
    EXPECT_EQ(pressure.back(), 0.0F);
    const double highest = static_cast<double>(*std::ranges::max_element(pressure));
    EXPECT_LT(highest, 1.01 * field.peak(point, drive));
    EXPECT_NEAR(field.arrival_s(Vec3(0, 0, 10 * mm), drive), 10 * mm / c, 0.12e-6);  // rim and ends come later
}

// Reception that follows the point is focused at its range; reception that is held, at the focus everywhere.
TEST(BeamField, ReceptionThatFollowsIsInFocusEverywhere) {
    const Probe probe = row(32, 0.6);
    TransmitEvent event;
    event.weight.assign(32, 1.0);
    event.delay_s.assign(32, 0.0);
    const auto focused = [&](double range_m) {
        return ElementDrive{std::vector<double>(32, 1.0),
                            focusing_delays(probe.elements, Vec3::Zero(), Vec3(0, 0, range_m), c)};
    };
    for (const bool pulsed : {false, true}) {
        const BeamField::Setting setting{BeamPath::receive, pulsed, 5e6, 30 * mm};
        const BeamField follows(probe, std::nullopt, event, Medium{}, {focused, true}, setting);
        const BeamField held(probe, std::nullopt, event, Medium{}, {focused, false}, setting);
        const Vec3 near(0, 0, 15 * mm);
        const Vec3 focus(0, 0, 30 * mm);
        EXPECT_GT(follows.amplitude(near), 1.5 * held.amplitude(near));
        EXPECT_NEAR(follows.amplitude(focus), held.amplitude(focus), 1e-9);
        const BeamField both(probe, std::nullopt, event, Medium{}, {focused, false},
                             {BeamPath::two_way, pulsed, 5e6, 30 * mm});
        if (!pulsed) {
            const BeamField transmitted(probe, std::nullopt, event, Medium{}, {},
                                        {BeamPath::transmit, pulsed, 5e6, 0.0});
            EXPECT_NEAR(both.amplitude(near), transmitted.amplitude(near) * held.amplitude(near), 1e-12);
        }
    }
}

TEST(BeamField, BitsDoNotDependOnThreads) {
    const Probe probe = row(8, 0.6);
    TransmitEvent event;
    event.weight.assign(8, 1.0);
    event.delay_s.assign(8, 0.0);
    const BeamField field(probe, std::nullopt, event, Medium{}, {}, {BeamPath::transmit, true, 5e6, 0.0});
    std::vector<Vec3> points;
    points.reserve(100);
    for (int i = 0; i < 100; ++i) {
        points.emplace_back((i - 50) * 0.1 * mm, 0, 8 * mm);
    }
    omp_set_num_threads(1);
    const std::vector<double> one = field.amplitudes(points);
    omp_set_num_threads(3);
    EXPECT_EQ(one, field.amplitudes(points));
}

TEST(PhasorSum, IsTheSumOnEveryTarget) {
    std::vector<std::vector<Complex>> found;
    for (const int64_t target : hwy::SupportedAndGeneratedTargets()) {
        hwy::SetSupportedTargetsForTest(target);
        PhasorSum sum(5, 2e5);
        std::vector<Complex> bins(60);
        for (int i = 0; i < 37; ++i) {
            sum.add(0.1 * (i - 10), 1e-7 * (i - 20));
        }
        sum.finish(bins);
        found.push_back(bins);
    }
    hwy::SetSupportedTargetsForTest(0);
    for (std::size_t n = 0; n < 60; ++n) {
        Complex want;
        for (int i = 0; i < 37; ++i) {
            want +=
                0.1 * (i - 10) * std::polar(1.0, -2.0 * pi * (1e6 + 2e5 * static_cast<double>(n)) * 1e-7 * (i - 20));
        }
        EXPECT_LT(std::abs(found.front()[n] - want), 1e-3);  // the sizes add up to 44
    }
    for (const auto& bins : found) {
        EXPECT_EQ(bins, found.front());
    }
}

}  // namespace
}  // namespace echoloom
