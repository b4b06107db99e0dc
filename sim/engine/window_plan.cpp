#include "sim/engine/window_plan.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <complex>
#include <numbers>

namespace echoloom {

namespace {

// Lengths that FFTW transforms fastest: up to 0.4 ns a sample, where others of like size take two or three times that.
constexpr std::array<int, 19> window_lengths{48,  64,  80,  96,  120, 128, 144, 160,  192, 200,
                                             240, 256, 320, 384, 400, 512, 640, 1024, 1280};

}  // namespace

int window_length(int samples) {
    const auto* found = std::lower_bound(window_lengths.begin(), window_lengths.end(), samples);
    return found != window_lengths.end() ? *found : (samples + 1023) / 1024 * 1024;
}

std::array<PulseBand, 2> split_pulse(const Probe& probe) {
    // Lower, and the upper part rings as long as the whole did; higher, and the lower part needs as many bins.
    const double split_Hz = 0.145 * probe.center_Hz;
    return {{{probe.pulse, split_Hz, 0.0}, {probe.pulse, 0.0, split_Hz}}};
}

std::vector<PulseBand> pulse_bands(const Probe& probe, const Medium& medium) {
    if (medium.attenuation_dB_cm_MHz == 0.0) {
        return {{probe.pulse}};
    }
    const auto parts = split_pulse(probe);
    return {parts.begin(), parts.end()};
}

EngineContext engine_context(const Probe& probe, const PulseBand& band, const Medium& medium, double sampling_rate_Hz,
                             double longest_path_m, double tolerance) {
    EngineContext context{
        .elements = element_arrays(probe),
        .fault_gain = {},
        .fault_delay_s = {},
        .medium = medium,
        .band = band,
        .center_Hz = probe.center_Hz,
        .sampling_rate_Hz = sampling_rate_Hz,
        .tolerance = tolerance,
        .echoes = EchoTable(band, medium, probe.center_Hz, sampling_rate_Hz, longest_path_m, tolerance),
        .rules = {},
        .straight_row = is_straight_row(probe),
        .arc = find_arc(probe)};
    for (const Element& element : probe.elements) {
        context.fault_gain.push_back(element.gain);
        context.fault_delay_s.push_back(element.delay_s);
    }
    // No path turns faster along a face than its own length does.
    const double wavenumber = 2.0 * std::numbers::pi * context.echoes.highest_Hz() / medium.sound_speed_m_s;
    const double half = std::max(context.elements.widest, context.elements.tallest);
    const int most = std::min(points_for_phase(2.0 * wavenumber * half, tolerance) + 14, max_face_points);
    context.rules.resize(max_face_points + 1);
    for (int points = 1;; points = rounded_points(points + 1)) {
        context.rules[static_cast<std::size_t>(points)] = kept_gauss_legendre(points);
        if (points >= most) {
            break;
        }
    }
    return context;
}

int longest_window(const EngineContext& context, double cell_size_m) {
    const EchoSpan span = context.echoes.widest_core();
    double fault = 0.0;
    for (double delay : context.fault_delay_s) {
        fault = std::max(fault, std::abs(delay));
    }
    // A cell is no longer than three of its sides, and a face seen from anywhere no deeper than its own diagonal.
    const double path = 3.0 * cell_size_m + 2.0 * (context.elements.widest + context.elements.tallest);
    const double spread = (path / context.medium.sound_speed_m_s + 2.0 * fault) * context.sampling_rate_Hz;
    return window_length(span.before + span.after + 2 * static_cast<int>(std::ceil(spread)) + 8);
}

void widen(const EngineContext& context, int more_samples, WindowPlan& plan) {
    plan.needed += more_samples;
    plan.core_after += more_samples;
    plan.length = window_length(plan.needed);
    plan.bin_Hz = context.sampling_rate_Hz / plan.length;
    plan.first_bin = static_cast<int>(std::floor(plan.band.low_Hz / plan.bin_Hz));
    const int last = std::min(static_cast<int>(std::ceil(plan.band.high_Hz / plan.bin_Hz)), plan.length / 2);
    plan.bins = last - plan.first_bin + 1;
}

WindowPlan plan_window(const EngineContext& context, std::span<const Scatterer> cell) {
    const ElementArrays& elements = context.elements;
    const double c = context.medium.sound_speed_m_s;
    const double fs = context.sampling_rate_Hz;
    const Box box = upper_box(cell);

    WindowPlan plan;
    plan.reference.resize(elements.padded);
    plan.reference_s.resize(elements.padded);
    plan.reference_path_m.resize(elements.padded);
    double spread = 0.0;
    double nearest = std::numeric_limits<double>::infinity();
    double farthest = 0.0;
    std::vector<PathBounds> bounds(elements.padded);
    for (std::size_t e = 0; e < elements.padded; ++e) {
        bounds[e] = e < elements.count ? path_bounds(elements, e, cell, c) : bounds[e - 1];
        plan.reference[e] = static_cast<int>(std::floor(bounds[e].min_s * fs));
        plan.reference_s[e] = plan.reference[e] / fs;
        plan.reference_path_m[e] = (bounds[e].min_m + bounds[e].max_m) / 2.0;
        spread = std::max(spread, bounds[e].max_s * fs - plan.reference[e]);
        nearest = std::min(nearest, bounds[e].min_m);
        farthest = std::max(farthest, bounds[e].max_m);
    }
    double fault_samples = 0.0;
    for (double delay : context.fault_delay_s) {
        fault_samples = std::max(fault_samples, std::abs(delay) * fs);
    }
    const int margin = 2 * static_cast<int>(std::ceil(fault_samples));
    const EchoTable::Band band = context.echoes.band(2.0 * nearest, 2.0 * farthest);
    // Slope of a straight line through the attenuation at the band's middle; exact for a power of one.
    const double middle_Hz = (band.low_Hz + band.high_Hz) / 2.0;
    plan.linear_attenuation = context.medium.attenuation_Np_m(middle_Hz) / middle_Hz;

    // Above three quarters of the band the spectrum is too weak for its quadrature error to count.
    plan.wavenumber = 2.0 * std::numbers::pi * (band.low_Hz + 0.75 * (band.high_Hz - band.low_Hz)) / c;
    plan.faces = sample_faces(elements, box, plan.wavenumber, context.tolerance);

    const EchoSpan core = context.echoes.core(2.0 * nearest, 2.0 * farthest);
    const EchoSpan span = context.echoes.span(2.0 * nearest, 2.0 * farthest);
    const int widening = 2 * static_cast<int>(std::ceil(spread)) + 1;
    plan.core_before = core.before + margin;
    plan.core_after = core.after + margin + widening;
    plan.before = span.before + margin;
    plan.needed = plan.before + span.after + margin + widening;
    plan.band = band;
    widen(context, 0, plan);
    return plan;
}

}  // namespace echoloom
