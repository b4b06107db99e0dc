#include "sim/engine/head_echoes.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

#include "sim/engine/window_plan.h"

namespace echoloom {

namespace {

using Value = std::complex<float>;

constexpr double two_pi = 2.0 * std::numbers::pi;
constexpr int group_samples = 32;  ///< arrivals this close share a window
constexpr std::size_t rest_nodes = 4;

/// Each ring's waves are right to this part of the tolerance asked for.
constexpr double ring_share = 1.0 / 30.0;

double largest_radius(const Probe& probe) {
    double largest = 0.0;
    for (const Element& ring : probe.elements) {
        largest = std::max(largest, ring.outer_m);
    }
    return largest;
}

Vec3 seen_from(const HeadMotion& head, double angle_rad, const Scatterer& scatterer) {
    return head_pose(head, angle_rad).to_head(Vec3(scatterer.x_m, scatterer.y_m, scatterer.z_m));
}

/// Bounds of the path from anywhere on a disc.
struct PathRange {
    double least;
    double most;
};
PathRange path_range(double radius_m, double r_m, double z_m) {
    return {std::hypot(z_m, std::max(r_m - radius_m, 0.0)), std::hypot(z_m, r_m + radius_m)};
}

Sighting sight(const HeadContext& context, const TransmitEvent& event, const HeadPose& pose, double radius_m,
               const Scatterer& scatterer) {
    const double c = context.medium.sound_speed_m_s;
    const Vec3 transmitted = pose.to_head(Vec3(scatterer.x_m, scatterer.y_m, scatterer.z_m));
    const double arrival_s = 2.0 * transmitted.norm() / c;
    const Vec3 received =
        context.head.rotation_rate_rad_s == 0.0
            ? transmitted
            : seen_from(context.head, event.head_angle_rad + context.head.rotation_rate_rad_s * arrival_s, scatterer);
    Sighting sighting{scatterer.strength_m, std::hypot(transmitted.x(), transmitted.y()), transmitted.z(),
                      std::hypot(received.x(), received.y()), received.z()};
    const PathRange out = path_range(radius_m, sighting.send_r_m, sighting.send_z_m);
    const PathRange back = path_range(radius_m, sighting.receive_r_m, sighting.receive_z_m);
    sighting.min_s = (out.least + back.least) / c;
    sighting.max_s = (out.most + back.most) / c;
    return sighting;
}

/// Earliest and latest that any ring fires or receives, beside its true time.
struct DelayRange {
    double min_s = 0.0;
    double max_s = 0.0;
};
DelayRange delay_range(const HeadContext& context, const TransmitEvent& event) {
    DelayRange range;
    double fault_s = 0.0;
    for (std::size_t ring = 0; ring < event.weight.size(); ++ring) {
        fault_s = std::max(fault_s, std::abs(context.probe.elements[ring].delay_s));
        if (event.weight[ring] != 0.0) {
            range.min_s = std::min(range.min_s, event.delay_s[ring]);
            range.max_s = std::max(range.max_s, event.delay_s[ring]);
        }
    }
    return {range.min_s - 2.0 * fault_s, range.max_s + 2.0 * fault_s};
}

/// The window for echoes that begin within group_samples of `start`, the longest of them `spread` samples from first
/// to last arrival.
EchoGroup plan_group(const HeadContext& context, double start_time_s, std::int64_t start, int spread) {
    const double fs = context.sampling_rate_Hz;
    const double c = context.medium.sound_speed_m_s;
    const double min_path = std::max((start_time_s + static_cast<double>(start) / fs) * c, 0.0);
    const double max_path =
        std::max(min_path, (start_time_s + static_cast<double>(start + group_samples + spread) / fs) * c);
    const EchoSpan span = context.echoes.span(min_path, max_path);
    const EchoTable::Band band = context.echoes.band(min_path, max_path);
    EchoGroup group;
    group.start = start;
    group.before = span.before;
    group.length = window_length(span.before + group_samples + spread + span.after + 2);
    const double bin_Hz = fs / group.length;
    group.first_bin = static_cast<int>(std::floor(band.low_Hz / bin_Hz));
    group.bins = std::min(static_cast<int>(std::ceil(band.high_Hz / bin_Hz)), group.length / 2) - group.first_bin + 1;
    const double middle_Hz = 0.5 * (band.low_Hz + band.high_Hz);
    group.linear_attenuation = context.medium.attenuation_Np_m(middle_Hz) / middle_Hz;
    group.path_m = 0.5 * min_path;
    return group;
}

}  // namespace

EventEchoes plan_event(const HeadContext& context, const TransmitEvent& event, std::size_t samples,
                       std::span<const Scatterer> scatterers) {
    const double fs = context.sampling_rate_Hz;
    const HeadPose pose = head_pose(context.head, event.head_angle_rad);
    const double radius_m = largest_radius(context.probe);
    const DelayRange delays = delay_range(context, event);
    const auto end_wanted = static_cast<std::int64_t>(samples);

    struct Keyed {
        int spread;
        std::int64_t start;
        Sighting sighting;
    };
    std::vector<Keyed> keyed;
    for (const Scatterer& scatterer : scatterers) {
        const Sighting sighting = sight(context, event, pose, radius_m, scatterer);
        const double first = (sighting.min_s + delays.min_s - event.start_time_s) * fs;
        const double last = (sighting.max_s + delays.max_s - event.start_time_s) * fs;
        const auto start = static_cast<std::int64_t>(std::floor(first / group_samples)) * group_samples;
        // Few lengths, so that scatterers far off the axis, with their long echoes, do not make the windows of others
        // long.
        const int spread = window_length(static_cast<int>(std::ceil(last - first)) + 1);
        const EchoGroup alone = plan_group(context, event.start_time_s, start, spread);
        if (start - alone.before < end_wanted && start - alone.before + alone.length > 0) {
            keyed.push_back({spread, start, sighting});
        }
    }
    std::ranges::stable_sort(keyed, {}, [](const Keyed& one) { return std::pair(one.start, one.spread); });

    EventEchoes out;
    for (const Keyed& one : keyed) {
        const bool fresh = out.sightings.empty() || one.start != out.groups.back().start ||
                           one.spread != keyed[out.groups.back().first].spread;
        if (fresh) {
            out.groups.push_back(plan_group(context, event.start_time_s, one.start, one.spread));
            out.groups.back().first = out.sightings.size();
        }
        ++out.groups.back().count;
        out.sightings.push_back(one.sighting);
    }
    return out;
}

namespace {

/// Sums of one group at its bins.
class GroupSum {
  public:
    GroupSum(const HeadContext& context, const TransmitEvent& event, const EchoGroup& group, HeadScratch& scratch)
        : context_(context),
          event_(event),
          group_(group),
          scratch_(scratch),
          bins_(static_cast<std::size_t>(group.bins)),
          bin_Hz_(context.sampling_rate_Hz / group.length),
          one_way_s_(0.5 * (event.start_time_s + static_cast<double>(group.start) / context.sampling_rate_Hz)),
          max_wavenumber_(two_pi * bin_Hz_ * (group.first_bin + group.bins) / context.medium.sound_speed_m_s) {
        const bool straight = context.medium.attenuation_exponent == 1.0 && !context.medium.dispersive;
        const bool rest = !straight && context.medium.attenuation_dB_cm_MHz > 0.0;
        for (std::size_t bin = 0; bin < bins_; ++bin) {
            const double f = frequency(bin);
            const std::complex<double> constant = path_constant(context.medium, f, context.probe.center_Hz);
            // At 0 Hz gamma vanishes and so does gamma H: there H itself is summed.
            gamma_.push_back(
                f == 0.0 ? 1.0 : constant + std::complex<double>(0.0, two_pi * f / context.medium.sound_speed_m_s));
            if (rest) {
                rest_.push_back(constant - group.linear_attenuation * f);
            }
        }
        scratch.real.resize(bins_);
        scratch.imaginary.resize(bins_);
        scratch.transmit.resize(bins_);
        scratch.receive.resize(bins_ * rings());
        scratch.sums.assign(bins_ * rings(), Value());
        if (context.head.rotation_rate_rad_s != 0.0) {
            return;  // the receive waves are of no use for transmit
        }
        firing_.resize(bins_ * rings());
        for (std::size_t ring = 0; ring < rings(); ++ring) {
            const Element& element = context.probe.elements[ring];
            for (std::size_t bin = 0; bin < bins_; ++bin) {
                const double lag = two_pi * frequency(bin) * (event.delay_s[ring] + element.delay_s);
                firing_[ring * bins_ + bin] = Value(std::polar(event.weight[ring] * element.gain, -lag));
            }
        }
    }

    void add(const Sighting& sighting) {
        const bool still = context_.head.rotation_rate_rad_s == 0.0;
        if (!still) {
            send_from(sighting.send_r_m, sighting.send_z_m);
        }
        receive_on_rings(sighting.receive_r_m, sighting.receive_z_m);
        if (still) {
            transmit_as_received();
        }
        const auto strength = static_cast<float>(sighting.strength_m);
        for (std::size_t ring = 0; ring < rings(); ++ring) {
            const Value* receive = scratch_.receive.data() + ring * bins_;
            Value* sum = scratch_.sums.data() + ring * bins_;
            for (std::size_t bin = 0; bin < bins_; ++bin) {
                sum[bin] += strength * times(scratch_.transmit[bin], receive[bin]);
            }
        }
    }

    /// Whole spectra of some rings' traces: the pulse, the common path and 1/gamma for either way.
    void finish(std::size_t first_ring, std::size_t count, std::span<float> spectra) const {
        const std::size_t half = static_cast<std::size_t>(group_.length) / 2 + 1;
        std::ranges::fill(spectra, 0.0F);
        for (std::size_t bin = 0; bin < bins_; ++bin) {
            const double f = frequency(bin);
            const std::complex<double> lossy = path_constant(context_.medium, f, context_.probe.center_Hz);
            // The window starts `before` samples early; the transform is not normalised.
            const double turn = -two_pi * f * group_.before / context_.sampling_rate_Hz;
            const std::complex<double> common = context_.band.spectrum(f) * std::polar(bin_Hz_, turn) *
                                                std::exp(-2.0 * lossy * group_.path_m) / (gamma_[bin] * gamma_[bin]);
            for (std::size_t i = 0; i < count; ++i) {
                const Element& element = context_.probe.elements[first_ring + i];
                const auto factor = Value(common * std::polar(element.gain, -two_pi * f * element.delay_s));
                const Value value = times(scratch_.sums[(first_ring + i) * bins_ + bin], factor);
                const std::size_t at = 2 * (i * half + static_cast<std::size_t>(group_.first_bin) + bin);
                spectra[at] = value.real();
                spectra[at + 1] = value.imag();
            }
        }
    }

  private:
    static Value times(Value a, Value b) {
        return {a.real() * b.real() - a.imag() * b.imag(), a.real() * b.imag() + a.imag() * b.real()};
    }
    std::size_t rings() const { return context_.probe.elements.size(); }
    double frequency(std::size_t bin) const { return (group_.first_bin + static_cast<double>(bin)) * bin_Hz_; }

    /// gamma G of every ring.
    void receive_on_rings(double r_m, double z_m) {
        for (std::size_t ring = 0; ring < rings(); ++ring) {
            clear_waves();
            add_ring(context_.probe.elements[ring], r_m, z_m, 1.0, 0.0);
            sum_waves(std::span(scratch_.receive).subspan(ring * bins_, bins_));
        }
    }

    /// gamma times the field of all rings that fire.
    void send_from(double r_m, double z_m) {
        clear_waves();
        for (std::size_t ring = 0; ring < rings(); ++ring) {
            const Element& element = context_.probe.elements[ring];
            const double weight = event_.weight[ring] * element.gain;
            if (weight != 0.0) {
                add_ring(element, r_m, z_m, weight, event_.delay_s[ring] + element.delay_s);
            }
        }
        sum_waves(scratch_.transmit);
    }

    void transmit_as_received() {
        std::ranges::fill(scratch_.transmit, Value());
        for (std::size_t ring = 0; ring < rings(); ++ring) {
            for (std::size_t bin = 0; bin < bins_; ++bin) {
                scratch_.transmit[bin] += times(firing_[ring * bins_ + bin], scratch_.receive[ring * bins_ + bin]);
            }
        }
    }

    void clear_waves() {
        scratch_.waves_now.clear();
        at_rest_ = 0.0;
    }

    void add_ring(const Element& ring, double r_m, double z_m, double weight, double late_s) {
        ring_terms(ring.inner_m, ring.outer_m, r_m, z_m, max_wavenumber_, ring_share * context_.tolerance,
                   scratch_.terms);
        for (const WaveTerm& term : scratch_.terms.plain) {
            add_wave(weight * term.weight, term.path_m, late_s);
        }
        // gamma exp(-gamma R), as the slope against R between two waves that stand close together: these small
        // corrections need no more.
        const double aside_m = 0.1 / max_wavenumber_;
        for (const WaveTerm& term : scratch_.terms.by_gamma) {
            const double slope = weight * term.weight / (2.0 * aside_m);
            add_wave(slope, term.path_m - aside_m, late_s);
            add_wave(-slope, term.path_m + aside_m, late_s);
        }
    }

    void add_wave(double weight, double path_m, double late_s) {
        // At 0 Hz the weights add up to nothing, and exp(-gamma R) is 1 - gamma R.
        at_rest_ -= weight * path_m;
        scratch_.waves_now.push_back({weight, path_m, late_s});
    }

    /// The spectrum of the waves. What is not proportional to frequency in the path constant is interpolated over the
    /// paths, which differ little, from Chebyshev nodes.
    void sum_waves(std::span<Value> out) {
        if (rest_.empty()) {
            fill_batch({}, 0);
            wave_spectrum(scratch_.batch, scratch_.waves, scratch_.real, scratch_.imaginary);
            for (std::size_t bin = 0; bin < bins_; ++bin) {
                out[bin] = Value(scratch_.real[bin], scratch_.imaginary[bin]);
            }
        } else {
            std::ranges::fill(out, Value());
            const std::array<double, rest_nodes> nodes = path_nodes();
            for (std::size_t n = 0; n < rest_nodes; ++n) {
                fill_batch(nodes, n);
                wave_spectrum(scratch_.batch, scratch_.waves, scratch_.real, scratch_.imaginary);
                for (std::size_t bin = 0; bin < bins_; ++bin) {
                    const auto factor = Value(std::exp(-rest_[bin] * (nodes[n] - group_.path_m)));
                    out[bin] += times(Value(scratch_.real[bin], scratch_.imaginary[bin]), factor);
                }
            }
        }
        if (group_.first_bin == 0) {
            out[0] = Value(static_cast<float>(at_rest_), 0.0F);
        }
    }

    std::array<double, rest_nodes> path_nodes() const {
        const auto [least, most] = std::ranges::minmax(scratch_.waves_now, {}, &HeadScratch::Wave::path_m);
        const double half = std::max(0.5 * (most.path_m - least.path_m), 1e-9);
        std::array<double, rest_nodes> nodes{};
        for (std::size_t n = 0; n < rest_nodes; ++n) {
            const double angle = (static_cast<double>(n) + 0.5) * std::numbers::pi / rest_nodes;
            nodes[n] = 0.5 * (most.path_m + least.path_m) + half * std::cos(angle);
        }
        return nodes;
    }

    /// All waves, or the share of each that interpolation gives to one of the nodes.
    void fill_batch(std::span<const double> nodes, std::size_t node) {
        const double slowness = 1.0 / context_.medium.sound_speed_m_s;
        scratch_.batch.clear();
        for (const HeadScratch::Wave& wave : scratch_.waves_now) {
            double share = wave.weight;
            for (std::size_t other = 0; other < nodes.size(); ++other) {
                share *= other == node ? 1.0 : (wave.path_m - nodes[other]) / (nodes[node] - nodes[other]);
            }
            const double delay_s = wave.path_m * slowness + wave.late_s - one_way_s_;
            const double loss = group_.linear_attenuation * (wave.path_m - group_.path_m);
            scratch_.batch.add(share, group_.first_bin, delay_s * bin_Hz_, -loss * bin_Hz_);
        }
        scratch_.batch.pad();
    }

    const HeadContext& context_;
    const TransmitEvent& event_;
    const EchoGroup& group_;
    HeadScratch& scratch_;
    std::size_t bins_;
    double bin_Hz_;
    double one_way_s_;  ///< half of the arrival that the window counts from
    double max_wavenumber_;
    double at_rest_ = 0.0;                     ///< the waves' sum at 0 Hz, where gamma is left out
    std::vector<std::complex<double>> gamma_;  ///< [bin]
    std::vector<std::complex<double>> rest_;   ///< [bin] of the path constant; empty where nothing is left
    std::vector<Value> firing_;                ///< [ring, bin]
};

}  // namespace

void add_event(const HeadContext& context, const TransmitEvent& event, const EventEchoes& echoes,
               const RealTransforms& transforms, HeadScratch& scratch, std::span<float> samples) {
    const std::size_t rings = context.probe.elements.size();
    const auto event_samples = static_cast<std::int64_t>(samples.size() / rings);
    for (const EchoGroup& group : echoes.groups) {
        GroupSum sum(context, event, group, scratch);
        for (const Sighting& sighting : std::span(echoes.sightings).subspan(group.first, group.count)) {
            sum.add(sighting);
        }
        const auto length = static_cast<std::size_t>(group.length);
        scratch.spectra.resize((length / 2 + 1) * 2 * RealTransforms::batch);
        scratch.traces.resize(length * RealTransforms::batch);
        const std::int64_t start = group.start - group.before;
        const std::int64_t from = std::max<std::int64_t>(start, 0);
        const std::int64_t to = std::min(start + group.length, event_samples);
        for (std::size_t ring = 0; ring < rings; ring += RealTransforms::batch) {
            const std::size_t count = std::min<std::size_t>(RealTransforms::batch, rings - ring);
            sum.finish(ring, count, scratch.spectra);
            transforms.inverse(group.length, scratch.spectra.data(), scratch.traces.data());
            for (std::size_t i = 0; i < count; ++i) {
                const float* trace = scratch.traces.data() + i * length;
                float* out = samples.data() + static_cast<std::ptrdiff_t>(ring + i) * event_samples;
                for (std::int64_t sample = from; sample < to; ++sample) {
                    out[sample] += trace[sample - start];
                }
            }
        }
    }
}

}  // namespace echoloom
