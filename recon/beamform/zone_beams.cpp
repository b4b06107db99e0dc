#include "recon/beamform/zone_beams.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <complex>
#include <numbers>

#include "sim/array/face.h"
#include "sim/base/parallel.h"

namespace echoloom {
namespace {

constexpr std::size_t remembered = 32;  ///< of the different pairs before it, one may be the same
constexpr double pi = std::numbers::pi;

/// exp(-j 2 pi cycles), to 1/4096 of a turn: 0.1 % of an amplitude.
class Phasors {
  public:
    Phasors() {
        for (std::size_t i = 0; i < count; ++i) {
            const double angle = -2.0 * pi * static_cast<double>(i) / static_cast<double>(count);
            values_[i] = {static_cast<float>(std::cos(angle)), static_cast<float>(std::sin(angle))};
        }
    }
    std::complex<float> operator()(double cycles) const {
        const double turns = cycles - std::floor(cycles);
        return values_[static_cast<std::size_t>(turns * static_cast<double>(count)) & (count - 1)];
    }

  private:
    static constexpr std::size_t count = 4096;
    std::array<std::complex<float>, count> values_;
};

/// Three frequencies whose weighted mean is that over the Gaussian power spectrum of the pulse (Gauss-Hermite).
struct Band {
    std::array<double, 3> per_wavelength;  ///< of the centre frequency
    std::array<double, 3> weight{1.0 / 6.0, 2.0 / 3.0, 1.0 / 6.0};

    explicit Band(double bandwidth_fraction) {
        const double sigma = bandwidth_fraction / (2.0 * std::sqrt(2.0 * std::numbers::ln2));
        const double aside = std::min(std::sqrt(1.5) * sigma, 0.9);
        per_wavelength = {1.0 - aside, 1.0, 1.0 + aside};
    }
};

using Wave = std::array<std::complex<float>, 3>;

/// What a comparison works with.
class Comparison {
  public:
    Comparison(const RecordingInfo& info, const LineSetting& setting, const BeamPair& pair)
        : setting_(setting),
          pair_(pair),
          wavelength_m_(info.probe.wavelength_m(setting.sound_speed_m_s)),
          band_(info.probe.bandwidth_fraction),
          weights_(pair.receivers.size()) {
        for (const BeamElement& element : pair.receivers) {
            receivers_half_m_ = std::max(receivers_half_m_, std::max(std::abs(element.place_m.x()), element.ring_m));
            half_height_m_ = std::max(half_height_m_, std::abs(element.place_m.y()));
        }
    }

    ZoneGap gap();

  private:
    BeamPower power(double depth_m);
    void receive_at(double depth_m);
    void add(Wave& wave, const BeamElement& element, double weight, const Vec3& point) const;
    Wave transmitted(const std::vector<BeamElement>& elements, const Vec3& point) const;
    Wave received(const Vec3& point) const;

    const LineSetting& setting_;
    const BeamPair& pair_;
    double wavelength_m_;
    Band band_;
    Phasors phasors_;
    double receivers_half_m_ = 0.0;
    double half_height_m_ = 0.0;
    std::vector<float> weights_;     ///< [channel]
    std::vector<double> advance_m_;  ///< [channel] by which its echoes are drawn nearer
};

double half_aperture_m(const std::vector<BeamElement>& elements) {
    double least = std::numeric_limits<double>::infinity();
    double most = -least;
    for (const BeamElement& element : elements) {
        const double half = 0.5 * element.width_m;
        least = std::min(least, element.ring_m > 0.0 ? -element.ring_m : element.place_m.x() - half);
        most = std::max(most, element.ring_m > 0.0 ? element.ring_m : element.place_m.x() + half);
    }
    return 0.5 * (most - least);
}

ZoneGap Comparison::gap() {
    ZoneGap gap{
        pair_.upper_focus_m, pair_.lower_focus_m, half_aperture_m(pair_.upper), half_aperture_m(pair_.lower), {}, {}};
    // The level on the axis turns over lengths of some wavelength x F-number^2.
    const double f_number = 0.5 * std::min(gap.upper_focus_m / gap.upper_half_m, gap.lower_focus_m / gap.lower_half_m);
    const double length = gap.lower_focus_m - gap.upper_focus_m;
    const double steps = std::clamp(std::ceil(length / (1.5 * wavelength_m_ * f_number * f_number)), 12.0, 64.0);
    for (double i = 0.0; i <= steps; i += 1.0) {
        gap.depth_m.push_back(gap.upper_focus_m + length * i / steps);
        gap.power.push_back(power(gap.depth_m.back()));
    }
    return gap;
}

void Comparison::receive_at(double depth_m) {
    setting_.weigh(pair_.receive, setting_.aperture.width_m(depth_m), weights_);
    advance_m_.clear();
    for (const Vec3& receiver : pair_.receive.receivers_m) {
        advance_m_.push_back(setting_.focus.path_m(Vec3::Zero(), pair_.receive.direction, depth_m, receiver));
    }
}

void Comparison::add(Wave& wave, const BeamElement& element, double weight, const Vec3& point) const {
    const Vec3 way = point - element.place_m;
    const double distance = std::sqrt(way.squaredNorm() + element.ring_m * element.ring_m);
    double directivity = 1.0;  // at the centre frequency
    if (element.ring_m > 0.0) {
        const double aside = std::hypot(way.x(), way.y());
        directivity = std::cyl_bessel_j(0.0, 2.0 * pi * element.ring_m * aside / distance / wavelength_m_);
    } else {
        const double argument = pi * element.width_m * way.dot(element.lateral) / distance / wavelength_m_;
        directivity = std::abs(argument) > 1e-6 ? std::sin(argument) / argument : 1.0;
    }
    const auto amplitude = static_cast<float>(weight * directivity / distance);
    const double wavelengths = (distance + element.path_m) / wavelength_m_;
    for (std::size_t f = 0; f < wave.size(); ++f) {
        wave[f] += amplitude * phasors_(wavelengths * band_.per_wavelength[f]);
    }
}

Wave Comparison::transmitted(const std::vector<BeamElement>& elements, const Vec3& point) const {
    Wave wave{};
    for (const BeamElement& element : elements) {
        add(wave, element, element.weight, point);
    }
    return wave;
}

Wave Comparison::received(const Vec3& point) const {
    Wave wave{};
    for (std::size_t channel = 0; channel < weights_.size(); ++channel) {
        if (weights_[channel] != 0.0F) {
            BeamElement element = pair_.receivers[channel];
            element.path_m = -advance_m_[channel];
            add(wave, element, static_cast<double>(weights_[channel]) * element.weight, point);
        }
    }
    return wave;
}

BeamPower Comparison::power(double depth_m) {
    receive_at(depth_m);
    const double width = std::min(setting_.aperture.width_m(depth_m), 2.0 * receivers_half_m_ + wavelength_m_);
    const double widest = 2.0 * std::max({half_aperture_m(pair_.upper), half_aperture_m(pair_.lower), 0.5 * width});
    // The product of the patterns holds no finer detail than this; six lobes of the receive beam hold its power.
    const double step = 0.8 * wavelength_m_ * depth_m / (widest + width) / band_.per_wavelength.back();
    const double focus = setting_.focus.depth_m(depth_m);
    const double reach = 6.0 * wavelength_m_ * depth_m / width + 0.5 * width * std::abs(depth_m / focus - 1.0);
    const auto steps = static_cast<int>(std::clamp(std::ceil(reach / step), 8.0, 400.0));
    constexpr int row_steps = 4;
    const double row_reach = half_height_m_ > 0.0 ? 2.0 * wavelength_m_ * depth_m / half_height_m_ : 0.0;
    const int max_row = pair_.rows ? row_steps : 0;

    double upper = 0.0;
    double lower = 0.0;
    double common = 0.0;
    double receive = 0.0;
    for (int row = 0; row <= max_row; ++row) {
        const double y = row_reach * row / row_steps;
        for (int i = -steps; i <= steps; ++i) {
            const Vec3 point(i * step, y, depth_m);
            // A beam of rings is round: what lies beside the axis lies all around it.
            const double around = pair_.upper.front().ring_m > 0.0 ? std::abs(i) : 1.0;
            const Wave back = received(point);
            const Wave first = transmitted(pair_.upper, point);
            const Wave second = transmitted(pair_.lower, point);
            for (std::size_t f = 0; f < back.size(); ++f) {
                const double share = around * (row == 0 ? 1.0 : 2.0) * band_.weight[f] * std::norm(back[f]);
                receive += share;
                upper += share * std::norm(first[f]);
                lower += share * std::norm(second[f]);
                common += share * (first[f] * std::conj(second[f])).real();
            }
        }
    }
    constexpr double silence = 1e-30;
    upper = upper / std::max(receive, silence) + silence;
    lower = lower / std::max(receive, silence) + silence;
    return {std::log(upper), std::log(lower), common / std::max(receive, silence) / std::sqrt(upper * lower)};
}

std::vector<BeamElement> elements_of(const RecordingInfo& info, const LineFrame& frame, const TransmitEvent& event,
                                     double sound_speed_m_s) {
    std::vector<BeamElement> senders;
    for (std::size_t i = 0; i < info.probe.elements.size(); ++i) {
        if (event.weight[i] == 0.0) {
            continue;
        }
        const Element& element = info.probe.elements[i];
        BeamElement sender{
            frame.place(element.center_m),     frame.turned(lateral_of(element)), element.width_m, 0.0, event.weight[i],
            event.delay_s[i] * sound_speed_m_s};
        if (element.is_ring()) {
            sender.ring_m = ring_radius_m(element);
            sender.weight *= element.outer_m * element.outer_m - element.inner_m * element.inner_m;
        }
        senders.push_back(sender);
    }
    return senders;
}

bool same_elements(const std::vector<BeamElement>& some, const std::vector<BeamElement>& others) {
    return std::ranges::equal(some, others, [](const BeamElement& a, const BeamElement& b) {
        return (a.place_m - b.place_m).squaredNorm() < 1e-18 && (a.lateral - b.lateral).squaredNorm() < 1e-18 &&
               std::abs(a.width_m - b.width_m) < 1e-9 && std::abs(a.ring_m - b.ring_m) < 1e-9 &&
               std::abs(a.weight - b.weight) <= 1e-12 * std::abs(a.weight) && std::abs(a.path_m - b.path_m) < 1e-9;
    });
}

}  // namespace

bool BeamPair::same_as(const BeamPair& other) const {
    return std::abs(upper_focus_m - other.upper_focus_m) < 1e-9 &&
           std::abs(lower_focus_m - other.lower_focus_m) < 1e-9 && receive.same_as(other.receive) &&
           same_elements(upper, other.upper) && same_elements(lower, other.lower);
}

BeamPair beams_between(const RecordingInfo& info, const ElementPlaces& places, std::size_t upper_event,
                       std::size_t lower_event, double sound_speed_m_s) {
    const TransmitEvent& upper = info.events[upper_event];
    const TransmitEvent& lower = info.events[lower_event];
    const LineFrame frame(line_start(info, upper));
    BeamPair pair;
    pair.receive = line_geometry(info, places, upper);
    pair.upper = elements_of(info, frame, upper, sound_speed_m_s);
    pair.lower = elements_of(info, frame, lower, sound_speed_m_s);
    pair.upper_focus_m = (upper.focus_m - upper.origin_m).norm();
    pair.lower_focus_m = (lower.focus_m - lower.origin_m).norm();
    pair.rows = info.probe.rows > 1;
    TransmitEvent everybody = upper;
    everybody.weight.assign(info.probe.elements.size(), 1.0);
    const std::vector<BeamElement> elements = elements_of(info, frame, everybody, sound_speed_m_s);
    for (const int receiver : upper.receivers) {
        pair.receivers.push_back(elements[static_cast<std::size_t>(receiver)]);
    }
    return pair;
}

void GapsOfLines::add(BeamPair pair) {
    const std::size_t first = pairs_.size() - std::min(pairs_.size(), remembered);
    const auto begin = pairs_.begin() + static_cast<std::ptrdiff_t>(first);
    const auto found = std::find_if(begin, pairs_.end(), [&](const BeamPair& other) { return pair.same_as(other); });
    of_added_.push_back(static_cast<std::size_t>(found - pairs_.begin()));
    if (found == pairs_.end()) {
        pairs_.push_back(std::move(pair));
    }
}

void GapsOfLines::compute(const RecordingInfo& info, const LineSetting& setting) {
    gaps_.resize(pairs_.size());
    for_each_in_parallel(pairs_.size(), [&](std::size_t i) { gaps_[i] = Comparison(info, setting, pairs_[i]).gap(); });
}

}  // namespace echoloom
