#include "sim/engine/window_plan.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <complex>
#include <numbers>

namespace echoloom {

namespace {

constexpr std::array<int, 22> window_lengths{48,  64,  80,  96,  112, 128, 144, 160,  192,  224,  256,
                                             320, 384, 448, 512, 640, 768, 896, 1024, 1280, 1536, 2048};

/// Shortest FFT-friendly length that holds `samples`; beyond the table the next multiple of 1024.
int window_length(int samples) {
    const auto* found = std::lower_bound(window_lengths.begin(), window_lengths.end(), samples);
    return found != window_lengths.end() ? *found : (samples + 1023) / 1024 * 1024;
}

/// |G| of one element toward a point at one frequency, over its value at zero frequency: what the face's size costs.
double face_loss(const EngineContext& context, std::size_t e, const Vec3& point, double frequency_Hz, int across,
                 int up) {
    const ElementArrays& a = context.elements;
    const double c = context.medium.sound_speed_m_s;
    const double wavenumber = 2.0 * std::numbers::pi * frequency_Hz / c;
    const Vec3 away = point - Vec3(a.center_x[e], a.center_y[e], a.center_z[e]);
    const double x = away.dot(Vec3(a.lateral_x[e], a.lateral_y[e], a.lateral_z[e]));
    const double y = away.dot(Vec3(a.elevation_x[e], a.elevation_y[e], a.elevation_z[e]));
    const double z = away.dot(Vec3(a.normal_x[e], a.normal_y[e], a.normal_z[e]));
    // Across and up the face are taken apart (exact far off, near enough here).
    const auto mean_phasor = [&](const GaussLegendre& rule, auto path) {
        std::complex<double> sum;
        for (std::size_t i = 0; i < rule.node.size(); ++i) {
            sum += rule.weight[i] / 2.0 * std::polar(1.0, -wavenumber * path(rule.node[i]));
        }
        return std::abs(sum);
    };
    const double lateral = mean_phasor(context.rules[static_cast<std::size_t>(across)],
                                       [&](double node) { return std::hypot(x - node * a.half_width[e], y, z); });
    const double elevation = mean_phasor(context.rules[static_cast<std::size_t>(up)], [&](double node) {
        const double height = node * a.half_height[e];
        return std::hypot(x, y - height, z) + c * lens_delay_s(a.elevation_focus_m, height, c);
    });
    return lateral * elevation;
}

/// The L2 norm of the weakest echo that a cell's middle gives any element, over that of an echo without directivity.
double weakest_echo(const EngineContext& context, const Box& box, double path_m, const FaceSampling& faces) {
    const std::vector<int>& across = faces.lateral_points;
    const int up = faces.elevation_points;
    constexpr std::size_t frequencies = 16;
    const auto amplitudes = context.echoes.amplitudes(path_m, frequencies);
    const Vec3 middle = (box.least + box.most) / 2.0;
    double plain = 0.0;
    for (const auto& amplitude : amplitudes) {
        plain += amplitude.value * amplitude.value;
    }
    double weakest = 1.0;
    for (std::size_t group = 0; group < across.size(); ++group) {
        const std::size_t e = group + 1 < across.size() ? group * element_group : context.elements.count - 1;
        double heard = 0.0;
        for (const auto& amplitude : amplitudes) {
            const double loss = face_loss(context, e, middle, amplitude.frequency_Hz, across[group], up);
            heard += std::pow(amplitude.value * loss * loss, 2.0);
        }
        weakest = std::min(weakest, std::sqrt(heard / plain));
    }
    return weakest;
}

}  // namespace

EngineContext engine_context(const Probe& probe, const Medium& medium, double sampling_rate_Hz, double longest_path_m,
                             double tolerance) {
    EngineContext context{
        .elements = element_arrays(probe),
        .fault_gain = {},
        .fault_delay_s = {},
        .medium = medium,
        .pulse = probe.pulse,
        .center_Hz = probe.center_Hz,
        .sampling_rate_Hz = sampling_rate_Hz,
        .tolerance = tolerance,
        .echoes = EchoTable(probe.pulse, medium, probe.center_Hz, sampling_rate_Hz, longest_path_m, tolerance),
        .rules = {},
        .straight_row = is_straight_row(probe)};
    for (const Element& element : probe.elements) {
        context.fault_gain.push_back(element.gain);
        context.fault_delay_s.push_back(element.delay_s);
    }
    context.rules.resize(most_face_points + 1);
    for (int points = 1; points <= most_face_points; ++points) {
        context.rules[static_cast<std::size_t>(points)] = gauss_legendre(points);
    }
    return context;
}

int longest_window(const EngineContext& context, double cell_size_m) {
    const EchoSpan span = context.echoes.widest();
    double fault = 0.0;
    for (double delay : context.fault_delay_s) {
        fault = std::max(fault, std::abs(delay));
    }
    // A cell is no longer than three of its sides, and a face seen from anywhere no deeper than its own diagonal.
    const double path = 3.0 * cell_size_m + 2.0 * (context.elements.widest + context.elements.tallest);
    const double spread = (path / context.medium.sound_speed_m_s + 2.0 * fault) * context.sampling_rate_Hz;
    return window_length(span.before + span.after + 2 * static_cast<int>(std::ceil(spread)) + 8);
}

double choose_cell_size_m(const EngineContext& context, const Box& bounds, double scatterers) {
    const double c = context.medium.sound_speed_m_s;
    const double wavelength = c / context.center_Hz;
    const double middle_path = bounds.least.z() + bounds.most.z();
    // Echoes off the axis need a smaller part than those on it: a few halvings stand for the mean.
    const EchoSpan span = context.echoes.span(middle_path, middle_path, context.tolerance / 8.0);
    const EchoTable::Band band = context.echoes.band(middle_path, middle_path);
    double best = 0.0;
    double least_cost = std::numeric_limits<double>::infinity();
    for (double wavelengths : {2.5, 3.5, 5.0, 7.0, 10.0}) {
        const double size = wavelengths * wavelength;
        const double spread = 2.4 * size / c * context.sampling_rate_Hz;
        const double length = span.before + span.after + spread;
        const double bins = length * (band.high_Hz - band.low_Hz) / context.sampling_rate_Hz;
        const double cells =
            (1.0 + (bounds.most.x() - bounds.least.x()) / size) * (1.0 + (bounds.most.z() - bounds.least.z()) / size);
        // Per pair of elements, in units of one multiply-add of a bin: a transform and its handling cost as much as
        // about thirty of them a sample.
        const double cost = scatterers * bins + std::min(cells, scatterers) * (bins + 30.0 * length);
        if (cost < least_cost) {
            least_cost = cost;
            best = size;
        }
    }
    return best;
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
        bounds[e] = e < elements.count ? path_bounds(elements, e, box, c) : bounds[e - 1];
        plan.reference[e] = static_cast<int>(std::floor(bounds[e].least_s * fs));
        plan.reference_s[e] = plan.reference[e] / fs;
        plan.reference_path_m[e] = (bounds[e].least_m + bounds[e].most_m) / 2.0;
        spread = std::max(spread, bounds[e].most_s * fs - plan.reference[e]);
        nearest = std::min(nearest, bounds[e].least_m);
        farthest = std::max(farthest, bounds[e].most_m);
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

    // Above four fifths of the band the spectrum is too weak for its quadrature error to count.
    plan.wavenumber = 2.0 * std::numbers::pi * (band.low_Hz + 0.8 * (band.high_Hz - band.low_Hz)) / c;
    plan.faces = sample_faces(elements, box, plan.wavenumber, face_tolerance(context));

    const double part = context.echoes.has_tails()
                            ? 2.0 * context.tolerance * weakest_echo(context, box, nearest + farthest, plan.faces)
                            : context.tolerance;
    const EchoSpan core = context.echoes.span(2.0 * nearest, 2.0 * farthest, context.tolerance);
    const EchoSpan span = context.echoes.span(2.0 * nearest, 2.0 * farthest, part);
    const int widening = 2 * static_cast<int>(std::ceil(spread)) + 1;
    plan.core_before = core.before + margin;
    plan.core_after = core.after + margin + widening;
    plan.before = span.before + margin;
    plan.length = window_length(plan.before + span.after + margin + widening);
    plan.bin_Hz = fs / plan.length;
    plan.first_bin = static_cast<int>(std::floor(band.low_Hz / plan.bin_Hz));
    plan.bins = std::min(static_cast<int>(std::ceil(band.high_Hz / plan.bin_Hz)), plan.length / 2) - plan.first_bin + 1;

    return plan;
}

}  // namespace echoloom
