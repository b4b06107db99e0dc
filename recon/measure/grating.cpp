#include "recon/measure/grating.h"

#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>

#include "recon/measure/grid_place.h"
#include "recon/measure/interpolate.h"
#include "recon/measure/point_view.h"
#include "recon/measure/theory.h"

namespace echoloom {
namespace {

/// Search range around the lobe: laterally this many theoretical widths; axially half the time the pulse takes to cross
/// the aperture, one wavelength per element.
constexpr double lateral_widths = 2.0;

double sinc(double x) {
    const double angle = std::numbers::pi * x;
    return std::abs(angle) < 1e-9 ? 1.0 : std::sin(angle) / angle;
}

double directivity(const Probe& probe, double wavelength_m, double sine) {
    const double own = sinc(probe.elements.front().width_m * sine / wavelength_m);
    return probe.baffle == Baffle::soft ? own * std::sqrt(std::max(0.0, 1.0 - sine * sine)) : own;
}

/// Weights of an event's firing elements, in order along the face.
std::vector<double> firing(const TransmitEvent& event) {
    std::vector<double> weights;
    for (const double weight : event.weight) {
        if (weight != 0.0) weights.push_back(weight);
    }
    return weights;
}

struct Brightest {
    double amplitude = 0.0;
    Vec3 place_m = Vec3::Zero();
};

Brightest brightest_near(const Image& image, const GridIndex& center, double half_columns, double half_depths) {
    Brightest best;
    const auto& depths = depths_of(image.grid);
    const auto low = [](double value) { return static_cast<std::size_t>(std::max(0.0, std::ceil(value))); };
    const auto high = [](double value, std::size_t count) {
        return static_cast<std::size_t>(std::clamp(std::floor(value), 0.0, static_cast<double>(count - 1)));
    };
    for (std::size_t c = low(center.column - half_columns); c <= high(center.column + half_columns, image.columns);
         ++c) {
        for (std::size_t d = low(center.depth - half_depths); d <= high(center.depth + half_depths, image.depths);
             ++d) {
            const double value = image.envelope[c * image.depths + d];
            if (value <= best.amplitude) continue;
            const Column line = column_at(image.grid, static_cast<double>(c));
            best = {value, line.origin_m + depths[d] * line.direction};
        }
    }
    return best;
}

}  // namespace

double grating_level(const std::vector<double>& transmit, const std::vector<double>& receive, double bandwidth_fraction,
                     int order) {
    const auto factor = [&](const std::vector<double>& weights, double relative_frequency) {
        std::complex<double> sum = 0.0;
        double all = 0.0;
        for (std::size_t n = 0; n < weights.size(); ++n) {
            sum += std::polar(weights[n], 2.0 * std::numbers::pi * static_cast<double>(n) * order * relative_frequency);
            all += weights[n];
        }
        // Referred to the middle of the aperture, so that both sides arrive together.
        const double middle = 0.5 * (static_cast<double>(weights.size()) - 1.0);
        return all != 0.0 ? sum * std::polar(1.0, -2.0 * std::numbers::pi * middle * order * relative_frequency) / all
                          : std::complex<double>(0.0);
    };
    const double sigma = bandwidth_fraction / (2.0 * std::sqrt(2.0 * std::numbers::ln2));
    constexpr int steps = 2000;
    std::complex<double> sum = 0.0;
    double all = 0.0;
    for (int n = -steps; n <= steps; ++n) {
        const double off = 4.0 * sigma * n / steps;
        const double weight = std::exp(-0.5 * off * off / (sigma * sigma));
        sum += weight * factor(transmit, 1.0 + off) * factor(receive, 1.0 + off);
        all += weight;
    }
    return std::abs(sum) / all;
}

std::vector<GratingLobe> grating_lobes(const Image& image, const Vec3& point_m, double peak_amplitude) {
    std::vector<GratingLobe> lobes;
    const RecordingInfo& info = image.recording;
    const Probe& probe = info.probe;
    const auto* lines = std::get_if<LineGrid>(&image.grid);
    if (!lines || !(probe.pitch_m > 0.0) || has_rings(probe) || info.head || probe.rows > 1 ||
        !(peak_amplitude > 0.0) || info.events.front().kind != TransmitKind::focused ||
        image.recipe.transmit_focus != TransmitFocus::as_transmitted) {
        return lobes;
    }
    const Vec3 point(point_m.x(), 0.0, point_m.z());
    const double wavelength = probe.wavelength_m(info.medium.sound_speed_m_s);
    // A curved face turns with its lines.
    const auto along_face = [&](const Column& line) {
        return probe.radius_m > 0.0 ? line.lateral() : Vec3(Vec3::UnitX());
    };
    const auto sine_to_face = [&](const Column& line) {
        return (point - line.origin_m).normalized().dot(along_face(line));
    };
    // The sine at which a line's face sees the point, less that of the line's own direction.
    const auto excess = [&](double column) {
        const Column line = column_at(image.grid, column);
        return sine_to_face(line) - line.direction.dot(along_face(line));
    };
    const PointView own = view_of(info, image.recipe, point);
    const double own_sine = sine_to_face({own.origin_m, own.direction});
    for (const int order : {-1, 1}) {
        const double wanted = order * wavelength / probe.pitch_m;
        for (std::size_t c = 1; c < image.columns; ++c) {
            const double before = excess(static_cast<double>(c - 1)) - wanted;
            const double after = excess(static_cast<double>(c)) - wanted;
            if ((before < 0.0) == (after < 0.0)) continue;
            const double column = static_cast<double>(c - 1) + before / (before - after);
            const Column line = column_at(image.grid, column);
            const double distance =
                (point - line.origin_m).norm() * image.sound_speed_m_s / info.medium.sound_speed_m_s;
            const auto place = index_of(image.grid, line.origin_m + distance * line.direction);
            if (!place) continue;
            GratingLobe lobe;
            lobe.order = order;
            lobe.point_m = point;
            lobe.place_m = line.origin_m + distance * line.direction;
            const PointView view = view_of(info, image.recipe, lobe.place_m);
            const std::vector<double> transmit = firing(*view.events.front());
            std::vector<double> receive =
                receive_weights(info, image.recipe, view.events.front()->receivers, view.origin_m, view.depth_m);
            std::erase(receive, 0.0);
            const double level = grating_level(transmit, receive, probe.bandwidth_fraction, order);
            const double seen = directivity(probe, wavelength, sine_to_face(line));
            const double own_directivity = directivity(probe, wavelength, own_sine);
            lobe.predicted_dB =
                20.0 * std::log10(std::max(1e-9, level * seen * seen / (own_directivity * own_directivity)));
            const double width = lateral_theory_m(info, image.recipe, lobe.place_m, 0.5);
            const LateralCut cut = lateral_cut(image.grid, *place);
            const double step = std::abs(cut.position_m.back() - cut.position_m.front()) /
                                static_cast<double>(std::max<std::size_t>(1, cut.position_m.size() - 1));
            const auto& depths = depths_of(image.grid);
            const double depth_step =
                (depths.back() - depths.front()) / static_cast<double>(std::max<std::size_t>(1, depths.size() - 1));
            const double smear = 0.25 * wavelength * static_cast<double>(std::max(transmit.size(), receive.size())) +
                                 2.0 * axial_theory_m(probe, info.medium.sound_speed_m_s, 0.5);
            const double half_lateral = lateral_widths * (std::isfinite(width) ? width : 4.0 * step);
            const Brightest best = brightest_near(image, *place, half_lateral / step, smear / depth_step);
            lobe.measured_m = best.place_m;
            lobe.measured_dB = 20.0 * std::log10(std::max(1e-9, best.amplitude / peak_amplitude));
            lobe.another_point = std::ranges::any_of(info.truth.points, [&](const TruePoint& other) {
                const Vec3 apart = other.position_m - lobe.place_m;
                return std::abs(apart.dot(line.lateral())) < half_lateral + 2.0 * width &&
                       std::abs(apart.dot(line.direction)) < 2.0 * smear;
            });
            lobes.push_back(lobe);
        }
    }
    return lobes;
}

}  // namespace echoloom
