#include "recon/measure/correlation.h"

#include <Eigen/Geometry>
#include <algorithm>
#include <cmath>

#include "recon/measure/grid_place.h"
#include "recon/measure/interpolate.h"
#include "recon/measure/prediction.h"
#include "recon/measure/profile.h"
#include "recon/measure/provenance.h"
#include "sim/base/error.h"

namespace echoloom {
namespace {

/// Half the gate, in wavelengths.
constexpr double half_gate = 2.0;
/// Lines are compared until the beam has moved by this many of its widths.
constexpr double max_beam_widths = 3.0;
constexpr int max_pulses = 256;
/// Shifts are tried up to a quarter wavelength of depth either way (half a period of the echo; beyond that, one cycle
/// is mistaken for the next), in steps of this part of a sample.
constexpr double max_shift = 0.25;
constexpr double shift_step = 0.125;

/// The samples around the target.
struct Gate {
    std::size_t first, last;  ///< both included
};

std::span<const float> line_of(const Image& image, std::size_t column) {
    return std::span(image.real).subspan(column * image.depths, image.depths);
}

double sum_of_products(std::span<const double> a, std::span<const double> b) {
    double sum = 0.0;
    for (std::size_t n = 0; n < a.size(); ++n) sum += a[n] * b[n];
    return sum;
}

/// Samples of a line in the gate, taken `shift` samples deeper.
std::vector<double> gated(std::span<const float> line, const Gate& gate, double shift) {
    std::vector<double> values;
    const SampleView one{line, 1, line.size()};
    for (std::size_t n = gate.first; n <= gate.last; ++n) {
        values.push_back(shift == 0.0 ? line[n] : interpolate(one, 0.0, static_cast<double>(n) + shift));
    }
    return values;
}

double correlation(std::span<const double> a, std::span<const double> b) {
    const double power = sum_of_products(a, a) * sum_of_products(b, b);
    return power > 0.0 ? sum_of_products(a, b) / std::sqrt(power) : 0.0;
}

LaterPulse compare(const Image& image, std::size_t first, std::size_t later, const Gate& gate, double shift_limit,
                   double depth_step) {
    LaterPulse pulse;
    const std::vector<double> a = gated(line_of(image, first), gate, 0.0);
    const std::vector<double> b = gated(line_of(image, later), gate, 0.0);
    pulse.correlation = pulse.best_correlation = correlation(a, b);
    const double power = sum_of_products(a, a);
    pulse.level_dB = 10.0 * std::log10(std::max(sum_of_products(b, b) / power, 1e-12));
    for (double shift = -shift_limit; shift <= shift_limit; shift += shift_step) {
        const double shifted = correlation(a, gated(line_of(image, later), gate, shift));
        if (shifted <= pulse.best_correlation) continue;
        pulse.best_correlation = shifted;
        pulse.apparent_m = shift * depth_step;
    }
    return pulse;
}

/// Lateral positions at which the lines pass the target.
std::vector<double> lateral_positions(const LineGrid& grid, const GridIndex& place, std::size_t& first_column) {
    const LateralCut cut = lateral_cut(grid, place);
    first_column = cut.first_column;
    return cut.position_m;
}

TargetCorrelation correlate_target(const Image& image, const Vec3& true_m) {
    TargetCorrelation target{true_m, {}, {}};
    const auto& grid = std::get<LineGrid>(image.grid);
    const RecordingInfo& info = image.recording;
    const PointPrediction predicted = predict_point(info, image.recipe, true_m);
    const auto through = index_of(image.grid, true_m);
    if (!through || !predicted.lateral_6dB.width_m) {
        target.reason = through ? predicted.lateral_6dB.reason : "outside the image";
        return target;
    }
    std::size_t first_column = 0;
    const std::vector<double> places = lateral_positions(grid, *through, first_column);
    // A rotating head shows the target displaced: take the line that shows it best.
    std::size_t nearest = 0;
    for (std::size_t n = 0; n < places.size(); ++n) {
        if (std::abs(places[n] - predicted.search_offset_m) < std::abs(places[nearest] - predicted.search_offset_m))
            nearest = n;
    }
    const double wavelength = info.probe.wavelength_m(image.sound_speed_m_s);
    const double depth_step = (grid.depth_m.back() - grid.depth_m.front()) / static_cast<double>(image.depths - 1);
    const double shown =
        value_at_index(grid.depth_m, through->depth) * image.sound_speed_m_s / info.medium.sound_speed_m_s;
    const double centre = (shown - grid.depth_m.front()) / depth_step;
    const double half = half_gate * wavelength / depth_step;
    const double limit = max_shift * wavelength / depth_step;
    if (places.empty() || centre - half - limit < 0.0 ||
        centre + half + limit > static_cast<double>(image.depths - 1)) {
        target.reason = "too close to the image's edge";
        return target;
    }
    const Gate gate{static_cast<std::size_t>(std::ceil(centre - half)), static_cast<std::size_t>(centre + half)};
    const std::size_t start = first_column + nearest;
    target.pulses.push_back({});
    for (std::size_t n = nearest + 1; n < places.size() && n - nearest <= max_pulses; ++n) {
        LaterPulse pulse = compare(image, start, first_column + n, gate, limit, depth_step);
        pulse.pulses = static_cast<int>(n - nearest);
        const Vec3& from = grid.direction[start];
        const Vec3& to = grid.direction[first_column + n];
        pulse.angle_rad = std::atan2(from.cross(to).norm(), from.dot(to));
        pulse.moved_m = std::abs(places[n] - places[nearest]);
        pulse.beam_widths = pulse.moved_m / *predicted.lateral_6dB.width_m;
        if (pulse.beam_widths > max_beam_widths && pulse.pulses > 1) break;
        target.pulses.push_back(pulse);
    }
    if (target.pulses.size() < 2) target.reason = "no later line passes it";
    return target;
}

/// A rotating head transmits when it reaches the next line; any other probe as soon as the echoes are back.
std::optional<double> pulse_interval_s(const RecordingInfo& info) {
    const bool turns = info.head && info.head->rotation_rate_rad_s != 0.0 && info.events.size() > 1;
    if (turns) {
        const double first = info.events.front().head_angle_rad, last = info.events.back().head_angle_rad;
        return std::abs((last - first) / info.head->rotation_rate_rad_s) / static_cast<double>(info.events.size() - 1);
    }
    if (!info.scan_depth_m) return std::nullopt;
    return 2.0 * *info.scan_depth_m / info.medium.sound_speed_m_s;
}

void refuse_other_images(const Image& image, const Place& place) {
    const bool lines = std::holds_alternative<LineGrid>(image.grid) && image.imaginary.empty();
    if (!lines || (!image.recording.events.empty() && image.recording.events.front().kind != TransmitKind::focused)) {
        throw InputError(place, "the image does not consist of the transmitted lines, so it has no pulses to compare");
    }
    if (image.real.empty()) {
        throw InputError(place, "the image has not kept its RF; reconstruct it with --set recipe.keep_rf=true");
    }
}

}  // namespace

CorrelationReport correlate_pulses(const Image& image, const Place& place) {
    refuse_other_images(image, place);
    const RecordingInfo& info = image.recording;
    CorrelationReport report;
    report.recipe = image.recipe.name;
    report.title = image.recipe.title.empty() ? image.recipe.name : image.recipe.title;
    report.label = report.title;
    report.provenance = provenance(image);
    report.gate_m = 2.0 * half_gate * info.probe.wavelength_m(image.sound_speed_m_s);
    if (info.head) report.rotation_rate_rad_s = info.head->rotation_rate_rad_s;
    report.pulse_interval_s = pulse_interval_s(info);
    for (const TruePoint& point : info.truth.points) {
        report.targets.push_back(correlate_target(image, point.position_m));
    }
    std::ranges::stable_sort(report.targets, [](const TargetCorrelation& a, const TargetCorrelation& b) {
        return a.true_m.z() != b.true_m.z() ? a.true_m.z() < b.true_m.z() : a.true_m.x() < b.true_m.x();
    });
    return report;
}

}  // namespace echoloom
