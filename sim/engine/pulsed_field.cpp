#include "sim/engine/pulsed_field.h"

#include <Eigen/Geometry>
#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

#include "sim/base/complex_product.h"
#include "sim/engine/elements.h"
#include "sim/engine/phasor_sum.h"
#include "sim/engine/propagation.h"
#include "sim/engine/ring_response.h"

namespace echoloom {

namespace {

using std::numbers::pi;
using Complex = std::complex<double>;

/// Of the pulse's peak: where its spectrum and its tails are cut off.
constexpr double cut = 1e-3;
constexpr std::size_t table_size = 4096;

Complex turned(double angle) {
    return {std::cos(angle), std::sin(angle)};
}

/// Nearest and farthest distance of a point, given about the middle of a face, from that face.
struct Reach {
    double nearest, farthest;
};
Reach reach_of(const Element& element, const Vec3& lateral, const Vec3& elevation, const Vec3& from_center) {
    const double z = from_center.dot(element.normal);
    if (element.is_ring()) {
        const double radius = (from_center - z * element.normal).norm();
        const double off = std::max({0.0, element.inner_m - radius, radius - element.outer_m});
        return {std::hypot(off, z), std::hypot(radius + element.outer_m, z)};
    }
    const double x = std::abs(from_center.dot(lateral));
    const double y = std::abs(from_center.dot(elevation));
    const double half_width = 0.5 * element.width_m;
    const double half_height = 0.5 * element.height_m;
    return {std::hypot(std::max(0.0, x - half_width), std::max(0.0, y - half_height), z),
            std::hypot(x + half_width, y + half_height, z)};
}

}  // namespace

struct PulsedField::Wave {
    double start_s = 0.0;  ///< of the period
    double first_Hz = 0.0, step_Hz = 0.0;
    std::vector<Complex> spectrum;  ///< [bin] relative to start_s; the pulse included
    std::vector<Complex> element;   ///< [bin] scratch: one element's response relative to its reference

    double frequency(std::size_t bin) const { return first_Hz + static_cast<double>(bin) * step_Hz; }
    /// Of the analytic signal.
    Complex at(double time_s) const {
        const double since = 2.0 * pi * (time_s - start_s);
        Complex phasor = turned(first_Hz * since);
        const Complex turn = turned(step_Hz * since);
        Complex sum;
        for (const Complex& value : spectrum) {
            sum += product(value, phasor);
            phasor = product(phasor, turn);
        }
        return 2.0 * step_Hz * sum;
    }
    struct Top {
        double time_s = 0.0, value = 0.0;
    };
    /// Where the envelope is greatest: two samples for each that the band needs, then a golden-section search.
    Top top() const {
        if (spectrum.empty()) {
            return {};
        }
        const auto level = [&](double time_s) { return std::norm(at(time_s)); };
        const std::size_t count = 2 * spectrum.size() + 2;
        const double step_s = 1.0 / (step_Hz * static_cast<double>(count));
        double best_s = start_s;
        double best = -1.0;
        for (std::size_t i = 0; i < count; ++i) {
            const double time_s = start_s + static_cast<double>(i) * step_s;
            if (const double value = level(time_s); value > best) {
                best = value;
                best_s = time_s;
            }
        }
        const double golden = 0.5 * (std::sqrt(5.0) - 1.0);
        double left_s = best_s - step_s;
        double right_s = best_s + step_s;
        for (int narrowed = 0; narrowed < 12; ++narrowed) {
            const double a = right_s - golden * (right_s - left_s);
            const double b = left_s + golden * (right_s - left_s);
            if (level(a) < level(b)) {
                left_s = a;
            } else {
                right_s = b;
            }
        }
        const double middle_s = 0.5 * (left_s + right_s);
        return {middle_s, std::sqrt(std::max(best, level(middle_s)))};
    }
};

PulsedField::PulsedField(const Probe& probe, const std::optional<HeadMotion>& head, double head_angle_rad,
                         const Medium& medium, double tolerance)
    : probe_(probe), medium_(medium), rules_(std::make_shared<const FaceRules>(tolerance)) {
    if (head) {
        pose_ = head_pose(*head, head_angle_rad);
    }
    for (const Element& element : probe.elements) {
        const Vec3 lateral = Vec3::UnitY().cross(element.normal).normalized();
        sources_.push_back({element, lateral, element.normal.cross(lateral)});
    }
    high_Hz_ = pulse_highest_frequency(probe.pulse, cut * cut);  // its square root falls to `cut` there
    tail_s_ = pulse_tail_s(probe.pulse, cut);
    two_way_ = table_of([&](double frequency) { return pulse_spectrum(probe.pulse, frequency); });
    one_way_ = table_of([&](double frequency) { return std::sqrt(std::abs(pulse_spectrum(probe.pulse, frequency))); });
    double highest = 0.0;
    for (const Complex& value : one_way_.value) {
        highest = std::max(highest, std::abs(value));
    }
    const auto lowest =
        std::ranges::find_if(one_way_.value, [&](const Complex& value) { return std::abs(value) >= cut * highest; });
    low_Hz_ = one_way_.step_Hz * static_cast<double>(lowest - one_way_.value.begin());
}

/// Scaled so that the pulse, if all its parts came together, had a peak of 1.
PulsedField::PulseTable PulsedField::table_of(const std::function<Complex(double)>& spectrum) const {
    PulseTable table{high_Hz_ / static_cast<double>(table_size - 1), {}};
    double whole = 0.0;
    for (std::size_t i = 0; i < table_size; ++i) {
        table.value.push_back(spectrum(table.step_Hz * static_cast<double>(i)));
        whole += 2.0 * table.step_Hz * std::abs(table.value.back());
    }
    for (Complex& value : table.value) {
        value /= whole;
    }
    return table;
}

Complex PulsedField::PulseTable::at(double frequency_Hz) const {
    const double place = frequency_Hz / step_Hz;
    const auto below = std::min(static_cast<std::size_t>(place), value.size() - 2);
    const double share = place - static_cast<double>(below);
    return (1.0 - share) * value[below] + share * value[below + 1];
}

PulsedField::Span PulsedField::arrivals(const Vec3& point, const ElementDrive& drive) const {
    Span span{1e300, -1e300};
    for (std::size_t e = 0; e < sources_.size(); ++e) {
        if (drive.weight[e] == 0.0) {
            continue;
        }
        const Source& source = sources_[e];
        const Reach reach = reach_of(source.element, source.lateral, source.elevation, point - source.element.center_m);
        const double rim_s =
            source.element.is_ring()
                ? 0.0
                : lens_delay_s(probe_.elevation_focus_m, 0.5 * source.element.height_m, medium_.sound_speed_m_s);
        const double drive_s = drive.delay_s[e] + source.element.delay_s;
        span.first_s = std::min(span.first_s, reach.nearest / medium_.sound_speed_m_s + drive_s + rim_s);
        span.last_s = std::max(span.last_s, reach.farthest / medium_.sound_speed_m_s + drive_s);
    }
    return span;
}

/// Adds an element's response to its scratch, [bin], relative to a reference time.
void PulsedField::add_rectangle(const Source& source, const Vec3& from_center, double reference_s, Wave& wave) const {
    const double x = from_center.dot(source.lateral);
    const double y = from_center.dot(source.elevation);
    const double z = from_center.dot(source.element.normal);
    const double half_width = 0.5 * source.element.width_m;
    const double half_height = 0.5 * source.element.height_m;
    const double c = medium_.sound_speed_m_s;
    const double wavenumber = 2.0 * pi * high_Hz_ / c;

    const double height_off = std::max(0.0, std::abs(y) - half_height);
    const double sine = (std::abs(x) + half_width) / std::hypot(std::abs(x) + half_width, height_off, z);
    const int across = rules_->side_points(wavenumber, sine, half_width, x, std::hypot(height_off, z));
    const double width_off = std::max(0.0, std::abs(x) - half_width);
    const double near = std::hypot(width_off, z);
    const double far = std::hypot(std::abs(x) + half_width, z);
    const double focus = probe_.elevation_focus_m;
    const double slope = std::max(steepest_elevation_slope(focus, half_height, y, near),
                                  steepest_elevation_slope(focus, half_height, y, far));
    const int up = rules_->side_points(wavenumber, slope, half_height, y, near);
    const GaussLegendre& lateral = rules_->rule(across);
    const GaussLegendre& elevation = rules_->rule(up);

    const bool mirrored = y == 0.0;  // both halves of the height count the same
    const std::size_t first = mirrored ? static_cast<std::size_t>(up / 2) : 0;
    // Losses go along each path at the centre frequency, and along the mean path as far as they differ from that.
    const double middle_loss = medium_.attenuation_Np_m(probe_.center_Hz);
    double weights = 0.0;
    double weighted_path = 0.0;
    PhasorSum sum(static_cast<unsigned>(std::lround(wave.first_Hz / wave.step_Hz)), wave.step_Hz);
    for (std::size_t j = first; j < elevation.node.size(); ++j) {
        const double height = half_height * elevation.node[j];
        const double rim_s = lens_delay_s(focus, height, c);
        const double off = (y - height) * (y - height) + z * z;
        const bool middle = mirrored && j == first && up % 2 == 1;
        const double share = (mirrored && !middle ? 2.0 : 1.0) * elevation.weight[j] * half_width * half_height;
        for (std::size_t i = 0; i < lateral.node.size(); ++i) {
            const double along = x - half_width * lateral.node[i];
            const double path = std::sqrt(along * along + off);
            if (path == 0.0) {
                continue;  // on the face itself, where the integral exists and its rule does not
            }
            double size = share * lateral.weight[i] / (2.0 * pi * path);
            if (probe_.baffle == Baffle::soft) {
                size *= z / path;
            }
            if (middle_loss > 0.0) {
                size *= std::exp(-middle_loss * path);
            }
            weights += size;
            weighted_path += size * path;
            sum.add(size, path / c + rim_s - reference_s);
        }
    }
    sum.finish(wave.element);
    if (middle_loss > 0.0 && weights != 0.0) {
        const double path = weighted_path / weights;
        for (std::size_t n = 0; n < wave.element.size(); ++n) {
            const Complex loss = path_constant(medium_, wave.frequency(n), probe_.center_Hz) - middle_loss;
            wave.element[n] = product(wave.element[n], std::exp(-loss * path));
        }
    }
}

void PulsedField::add_ring(const Source& source, const Vec3& from_center, double reference_s, Wave& wave) const {
    const Element& ring = source.element;
    const double height = from_center.dot(ring.normal);
    const double radius = (from_center - height * ring.normal).norm();
    for (std::size_t n = 0; n < wave.element.size(); ++n) {
        const double omega = 2.0 * pi * wave.frequency(n);
        const Complex gamma =
            path_constant(medium_, wave.frequency(n), probe_.center_Hz) + Complex(0.0, omega / medium_.sound_speed_m_s);
        wave.element[n] =
            product(ring_response(ring.inner_m, ring.outer_m, radius, height, gamma), turned(omega * reference_s));
    }
}

/// The product of what the drives make of the elements' responses, one drive for one way, two for both.
PulsedField::Wave PulsedField::wave_at(const Vec3& point_m, std::span<const ElementDrive* const> drives) const {
    const Vec3 point = pose_ ? pose_->to_head(point_m) : point_m;
    Wave wave;
    double period_s = 2.0 * tail_s_;
    std::array<double, 2> start_s{};
    for (std::size_t d = 0; d < drives.size(); ++d) {
        const Span span = arrivals(point, *drives[d]);
        if (span.last_s < span.first_s) {
            return wave;  // nobody takes part
        }
        start_s[d] = span.first_s - (d == 0 ? tail_s_ : 0.0);
        period_s += span.last_s - span.first_s;
        wave.start_s += start_s[d];
    }
    wave.step_Hz = 1.0 / period_s;
    const double lowest = std::max(1.0, std::ceil(low_Hz_ / wave.step_Hz));
    wave.first_Hz = lowest * wave.step_Hz;
    const auto bins = static_cast<std::size_t>(std::max(1.0, std::floor(high_Hz_ / wave.step_Hz) - lowest + 1.0));
    std::array<std::vector<Complex>, 2> sums{std::vector<Complex>(bins), std::vector<Complex>(bins)};
    for (std::size_t e = 0; e < sources_.size(); ++e) {
        const Source& source = sources_[e];
        if (std::ranges::all_of(drives, [&](const ElementDrive* drive) { return drive->weight[e] == 0.0; })) {
            continue;
        }
        const Vec3 from_center = point - source.element.center_m;
        const double reference_s = from_center.norm() / medium_.sound_speed_m_s;
        wave.element.assign(bins, Complex());
        if (source.element.is_ring()) {
            add_ring(source, from_center, reference_s, wave);
        } else {
            add_rectangle(source, from_center, reference_s, wave);
        }
        for (std::size_t d = 0; d < drives.size(); ++d) {
            const double weight = drives[d]->weight[e] * source.element.gain;
            const double late_s = reference_s + drives[d]->delay_s[e] + source.element.delay_s - start_s[d];
            Complex phasor = weight * turned(-2.0 * pi * wave.first_Hz * late_s);
            const Complex turn = turned(-2.0 * pi * wave.step_Hz * late_s);
            for (std::size_t n = 0; weight != 0.0 && n < bins; ++n) {
                sums[d][n] += product(phasor, wave.element[n]);
                phasor = product(phasor, turn);
            }
        }
    }
    const double k0 = 2.0 * pi * probe_.center_Hz / medium_.sound_speed_m_s;
    const PulseTable& pulse = drives.size() == 2 ? two_way_ : one_way_;
    wave.spectrum.resize(bins);
    for (std::size_t n = 0; n < bins; ++n) {
        const Complex both = drives.size() == 2 ? product(sums[0][n], k0 * k0 * sums[1][n]) : k0 * sums[0][n];
        wave.spectrum[n] = product(pulse.at(wave.frequency(n)), both);
    }
    return wave;
}

double PulsedField::peak(const Vec3& point_m, const ElementDrive& drive) const {
    const ElementDrive* const drives[] = {&drive};
    return wave_at(point_m, drives).top().value;
}

double PulsedField::peak(const Vec3& point_m, const ElementDrive& transmitted, const ElementDrive& received) const {
    const ElementDrive* const drives[] = {&transmitted, &received};
    return wave_at(point_m, drives).top().value;
}

double PulsedField::arrival_s(const Vec3& point_m, const ElementDrive& drive) const {
    const ElementDrive* const drives[] = {&drive};
    return wave_at(point_m, drives).top().time_s;
}

void PulsedField::pressures(const Vec3& point_m, const ElementDrive& drive, std::span<const double> instants_s,
                            std::span<float> pressure) const {
    std::ranges::fill(pressure, 0.0F);
    const Span span = arrivals(pose_ ? pose_->to_head(point_m) : point_m, drive);
    const auto silent = [&](double instant_s) {
        return instant_s < span.first_s - tail_s_ || instant_s > span.last_s + tail_s_;
    };
    if (std::ranges::all_of(instants_s, silent)) {
        return;
    }
    const ElementDrive* const drives[] = {&drive};
    const Wave wave = wave_at(point_m, drives);
    const double silence = wave.at(wave.start_s).real();  // the bins leave out 0 Hz, so that silence is not at zero
    for (std::size_t i = 0; i < instants_s.size(); ++i) {
        if (!silent(instants_s[i])) {
            pressure[i] = static_cast<float>(wave.at(instants_s[i]).real() - silence);
        }
    }
}

}  // namespace echoloom
