#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "sim/engine/response.cpp"
#include <hwy/foreach_target.h>  // compiles this file once for each target
// foreach_target.h must stand before highway.h
#include <hwy/contrib/math/math-inl.h>
#include <hwy/highway.h>

#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>

#include "sim/engine/response.h"

HWY_BEFORE_NAMESPACE();
namespace echoloom::HWY_NAMESPACE {

namespace hn = hwy::HWY_NAMESPACE;

/// The quadrature points of one element group for one scatterer, as the recurrence needs them: [point][element].
struct PointBatch {
    // Plain arrays: inline functions of the standard library must not be compiled for one target and linked for
    // another.
    static constexpr std::size_t most = 4;  ///< points whose state stays in registers together
    alignas(64) float amplitude[most * element_group];
    alignas(64) float first_turns[most * element_group];  ///< phase at the first bin, in turns
    alignas(64) float step_turns[most * element_group];   ///< phase from bin to bin, in turns
    alignas(64) float step_gain[most * element_group];    ///< attenuation from bin to bin
    alignas(64) float extra_path[most * element_group];   ///< R - reference path, for what is not straight in f
};

/// One quadrature point of the face, in units of half width and half height, with its share of the area.
struct FacePoint {
    double x = 0.0;
    double y = 0.0;
    double share = 0.0;
};

struct GroupFrame {
    const EngineContext* context;
    const ElementArrays* elements;
    const WindowPlan* plan;
    std::size_t first;  ///< element
};

/// Fills one point of the batch: distances and travel times in double precision.
void fill_point(const GroupFrame& frame, const Scatterer& s, const FacePoint& point, std::size_t slot,
                PointBatch& out) {
    const ElementArrays& a = *frame.elements;
    const WindowPlan& plan = *frame.plan;
    const double c = frame.context->medium.sound_speed_m_s;
    const hn::ScalableTag<double> d;
    const std::size_t lanes = hn::Lanes(d);
    const hn::Rebind<float, decltype(d)> df;
    const auto first_Hz = hn::Set(d, plan.first_bin * plan.bin_Hz);
    const auto step_Hz = hn::Set(d, plan.bin_Hz);
    const double focus = a.elevation_focus_m;
    const bool lens = std::isfinite(focus);
    for (std::size_t i = 0; i < element_group; i += lanes) {
        const std::size_t e = frame.first + i;
        const auto load = [&](const std::vector<double>& array) HWY_ATTR { return hn::LoadU(d, array.data() + e); };
        const auto dx = hn::Sub(hn::Set(d, s.x_m), load(a.center_x));
        const auto dy = hn::Sub(hn::Set(d, s.y_m), load(a.center_y));
        const auto dz = hn::Sub(hn::Set(d, s.z_m), load(a.center_z));
        const auto along = [&](const auto& x, const auto& y, const auto& z) HWY_ATTR {
            return hn::MulAdd(dx, load(x), hn::MulAdd(dy, load(y), hn::Mul(dz, load(z))));
        };
        const auto height = hn::Mul(hn::Set(d, point.y), load(a.half_height));
        const auto x =
            hn::Sub(along(a.lateral_x, a.lateral_y, a.lateral_z), hn::Mul(hn::Set(d, point.x), load(a.half_width)));
        const auto y = hn::Sub(along(a.elevation_x, a.elevation_y, a.elevation_z), height);
        const auto z = along(a.normal_x, a.normal_y, a.normal_z);
        const auto path = hn::Sqrt(hn::MulAdd(x, x, hn::MulAdd(y, y, hn::Mul(z, z))));
        auto time = hn::Sub(hn::Mul(path, hn::Set(d, 1.0 / c)), load(plan.reference_s));
        if (lens) {
            const auto rim = hn::Sqrt(hn::MulAdd(height, height, hn::Set(d, focus * focus)));
            const auto advance =
                hn::Div(hn::Mul(height, height), hn::Mul(hn::Add(rim, hn::Set(d, focus)), hn::Set(d, c)));
            time = hn::Sub(time, advance);
        }
        const auto extra = hn::Sub(path, load(plan.reference_path_m));
        // A_q / (2 pi R), the whole face being 4 half_width half_height and the shares adding up to one.
        auto amplitude = hn::Div(hn::Mul(hn::Mul(load(a.half_width), load(a.half_height)),
                                         hn::Set(d, 4.0 * point.share / (2.0 * std::numbers::pi))),
                                 path);
        if (a.soft) {
            amplitude = hn::Mul(amplitude, hn::Div(z, path));
        }
        const auto store = [&](auto value, float* to)
                               HWY_ATTR { hn::StoreU(hn::DemoteTo(df, value), df, to + slot * element_group + i); };
        const auto whole_turns_off = [&](auto turns) HWY_ATTR { return hn::Sub(turns, hn::Round(turns)); };
        store(amplitude, out.amplitude);
        store(whole_turns_off(hn::Mul(time, first_Hz)), out.first_turns);
        store(whole_turns_off(hn::Mul(time, step_Hz)), out.step_turns);
        store(extra, out.extra_path);
    }
    const hn::ScalableTag<float> dv;
    const auto exponent = [&](double frequency) HWY_ATTR {
        return hn::Set(dv, static_cast<float>(-plan.linear_attenuation * frequency));
    };
    for (std::size_t i = 0; i < element_group; i += hn::Lanes(dv)) {
        const std::size_t at = slot * element_group + i;
        const auto extra = hn::Load(dv, out.extra_path + at);
        const auto start = hn::Exp(dv, hn::Mul(extra, exponent(plan.first_bin * plan.bin_Hz)));
        hn::Store(hn::Mul(start, hn::Load(dv, out.amplitude + at)), dv, out.amplitude + at);
        hn::Store(hn::Exp(dv, hn::Mul(extra, exponent(plan.bin_Hz))), dv, out.step_gain + at);
    }
}

/// Adds `points` points to every bin of one scatterer and element vector. `rest` is the part of the path constant that
/// is not proportional to frequency, per bin; its exponential is a short series, for over a cell its exponent is small.
template <std::size_t points, bool with_rest, class D>
HWY_INLINE void run_recurrence(D d, const PointBatch& batch, std::size_t lane,
                               std::span<const std::complex<float>> rest, std::size_t bins, std::size_t stride,
                               bool first, float* HWY_RESTRICT real, float* HWY_RESTRICT imaginary) {
    using V = hn::Vec<D>;
    V re[points];
    V im[points];
    V step_re[points];
    V step_im[points];
    V extra[points];
    const auto turn = hn::Set(d, static_cast<float>(2.0 * std::numbers::pi));
    for (std::size_t q = 0; q < points; ++q) {
        const std::size_t at = q * element_group + lane;
        const auto amplitude = hn::Load(d, batch.amplitude + at);
        const auto gain = hn::Load(d, batch.step_gain + at);
        const auto start = hn::Mul(hn::Load(d, batch.first_turns + at), turn);
        const auto step = hn::Mul(hn::Load(d, batch.step_turns + at), turn);
        re[q] = hn::Mul(amplitude, hn::Cos(d, start));
        im[q] = hn::Neg(hn::Mul(amplitude, hn::Sin(d, start)));
        step_re[q] = hn::Mul(gain, hn::Cos(d, step));
        step_im[q] = hn::Neg(hn::Mul(gain, hn::Sin(d, step)));
        extra[q] = hn::Load(d, batch.extra_path + at);
    }
    for (std::size_t k = 0; k < bins; ++k) {
        float* to_re = real + k * stride;
        float* to_im = imaginary + k * stride;
        V sum_re = first ? hn::Zero(d) : hn::Load(d, to_re);
        V sum_im = first ? hn::Zero(d) : hn::Load(d, to_im);
        for (std::size_t q = 0; q < points; ++q) {
            if constexpr (with_rest) {
                // exp(-g) = 1 - g + g^2/2 - g^3/6 with g = rest * extra path
                const V gr = hn::Mul(hn::Set(d, rest[k].real()), extra[q]);
                const V gi = hn::Mul(hn::Set(d, rest[k].imag()), extra[q]);
                const V one = hn::Set(d, 1.0F);
                const V sixth = hn::Set(d, 1.0F / 6.0F);
                const V half = hn::Set(d, 0.5F);
                V pr = hn::Sub(half, hn::Mul(gr, sixth));
                V pi = hn::Neg(hn::Mul(gi, sixth));
                V tr = hn::Sub(hn::Mul(gr, pr), hn::Mul(gi, pi));
                V ti = hn::MulAdd(gr, pi, hn::Mul(gi, pr));
                pr = hn::Sub(tr, one);
                pi = ti;
                tr = hn::MulAdd(gr, pr, one);
                tr = hn::NegMulAdd(gi, pi, tr);
                ti = hn::MulAdd(gr, pi, hn::Mul(gi, pr));
                sum_re = hn::MulAdd(re[q], tr, hn::NegMulAdd(im[q], ti, sum_re));
                sum_im = hn::MulAdd(re[q], ti, hn::MulAdd(im[q], tr, sum_im));
            } else {
                sum_re = hn::Add(sum_re, re[q]);
                sum_im = hn::Add(sum_im, im[q]);
            }
            const V next = hn::NegMulAdd(im[q], step_im[q], hn::Mul(re[q], step_re[q]));
            im[q] = hn::MulAdd(re[q], step_im[q], hn::Mul(im[q], step_re[q]));
            re[q] = next;
        }
        hn::Store(sum_re, d, to_re);
        hn::Store(sum_im, d, to_im);
    }
}

template <std::size_t points>
void run_batch(const PointBatch& batch, std::span<const std::complex<float>> rest, std::size_t bins, std::size_t stride,
               bool first, float* real, float* imaginary) {
    const hn::CappedTag<float, element_group> d;
    for (std::size_t lane = 0; lane < element_group; lane += hn::Lanes(d)) {
        if (rest.empty()) {
            run_recurrence<points, false>(d, batch, lane, rest, bins, stride, first, real + lane, imaginary + lane);
        } else {
            run_recurrence<points, true>(d, batch, lane, rest, bins, stride, first, real + lane, imaginary + lane);
        }
    }
}

std::vector<FacePoint> face_points(const GaussLegendre& across, const GaussLegendre& up) {
    std::vector<FacePoint> points;
    for (std::size_t j = 0; j < up.node.size(); ++j) {
        for (std::size_t i = 0; i < across.node.size(); ++i) {
            points.push_back({across.node[i], up.node[j], across.weight[i] * up.weight[j] / 4.0});
        }
    }
    return points;
}

void responses(const EngineContext& context, const ElementArrays& elements, const WindowPlan& plan,
               std::span<const Scatterer> scatterers, std::span<const std::complex<float>> rest, ResponseGrid& out) {
    const std::size_t stride = out.scatterers * out.padded;
    PointBatch batch;
    for (std::size_t group = 0; group < plan.faces.lateral_points.size(); ++group) {
        const std::vector<FacePoint> face =
            face_points(context.rules[static_cast<std::size_t>(plan.faces.lateral_points[group])],
                        context.rules[static_cast<std::size_t>(plan.faces.elevation_points)]);
        const GroupFrame frame{&context, &elements, &plan, group * element_group};
        for (std::size_t s = 0; s < scatterers.size(); ++s) {
            float* real = out.real.data() + out.at(0, s) + frame.first;
            float* imaginary = out.imaginary.data() + out.at(0, s) + frame.first;
            std::size_t done = 0;
            while (done < face.size()) {
                const std::size_t take = face.size() - done >= PointBatch::most ? PointBatch::most : 1;
                for (std::size_t q = 0; q < take; ++q) {
                    fill_point(frame, scatterers[s], face[done + q], q, batch);
                }
                if (take == PointBatch::most) {
                    run_batch<PointBatch::most>(batch, rest, out.bins, stride, done == 0, real, imaginary);
                } else {
                    run_batch<1>(batch, rest, out.bins, stride, done == 0, real, imaginary);
                }
                done += take;
            }
        }
    }
}

/// exp(-(gamma path + j 2 pi f late)) for a row of elements; turns in double, the rest in float.
void path_factors(double frequency_Hz, std::complex<double> gamma, const double* path_m, const double* late_s,
                  std::size_t count, float* real, float* imaginary) {
    const hn::ScalableTag<double> d;
    const hn::Rebind<float, decltype(d)> df;
    const auto attenuation = hn::Set(d, -gamma.real());
    const auto dispersion = hn::Set(d, gamma.imag() / (2.0 * std::numbers::pi));
    const auto turn = hn::Set(df, static_cast<float>(2.0 * std::numbers::pi));
    for (std::size_t e = 0; e < count; e += hn::Lanes(d)) {
        const auto path = hn::LoadU(d, path_m + e);
        const auto turns = hn::MulAdd(hn::Set(d, frequency_Hz), hn::LoadU(d, late_s + e), hn::Mul(dispersion, path));
        const auto angle = hn::Mul(hn::DemoteTo(df, hn::Sub(turns, hn::Round(turns))), turn);
        const auto gain = hn::Exp(df, hn::DemoteTo(df, hn::Mul(attenuation, path)));
        hn::StoreU(hn::Mul(gain, hn::Cos(df, angle)), df, real + e);
        hn::StoreU(hn::Neg(hn::Mul(gain, hn::Sin(df, angle))), df, imaginary + e);
    }
}

}  // namespace echoloom::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace echoloom {

HWY_EXPORT(responses);
HWY_EXPORT(path_factors);

std::vector<std::complex<float>> path_constant_rest(const EngineContext& context, const WindowPlan& plan) {
    const bool straight = context.medium.attenuation_exponent == 1.0 && !context.medium.dispersive;
    if (straight || context.medium.attenuation_dB_cm_MHz == 0.0) {
        return {};
    }
    std::vector<std::complex<float>> rest;
    for (int k = 0; k < plan.bins; ++k) {
        const double f = (plan.first_bin + k) * plan.bin_Hz;
        rest.emplace_back(path_constant(context.medium, f, context.center_Hz) - plan.linear_attenuation * f);
    }
    return rest;
}

namespace {

/// Pulse spectrum at the bins, turned to where the window starts, scaled for the unnormalised inverse transform:
/// rf(t) = integral RF(f) exp(j 2 pi f t) df over both signs of f, sampled with bins of width bin_Hz.
std::vector<std::complex<float>> pulse_at_bins(const EngineContext& context, const WindowPlan& plan) {
    std::vector<std::complex<float>> out;
    for (int k = 0; k < plan.bins; ++k) {
        const double f = (plan.first_bin + k) * plan.bin_Hz;
        const double turn = -2.0 * std::numbers::pi * f * plan.before / context.sampling_rate_Hz;
        out.emplace_back(context.band.spectrum(f) * std::polar(plan.bin_Hz, turn));
    }
    return out;
}

}  // namespace

void ResponseGrid::start(std::size_t bin_count, std::size_t elements_padded, std::span<const Scatterer> cell) {
    bins = bin_count;
    scatterers = cell.size();
    padded = elements_padded;
    const std::size_t size = bins * scatterers * padded;
    if (real.size() < size) {
        real.resize(size);
        imaginary.resize(size);
    }
    strength.resize(cell.size());
    std::transform(cell.begin(), cell.end(), strength.begin(),
                   [](const Scatterer& s) { return static_cast<float>(s.strength_m); });
}

void compute_responses(const EngineContext& context, const ElementArrays& elements, const WindowPlan& plan,
                       std::span<const Scatterer> scatterers, ResponseGrid& out) {
    out.start(static_cast<std::size_t>(plan.bins), elements.padded, scatterers);
    HWY_DYNAMIC_DISPATCH(responses)(context, elements, plan, scatterers, path_constant_rest(context, plan), out);
}

ElementFactors element_factors(const EngineContext& context, const WindowPlan& plan) {
    const std::size_t padded = context.elements.padded;
    ElementFactors out;
    out.pulse = pulse_at_bins(context, plan);
    out.real.resize(static_cast<std::size_t>(plan.bins) * padded);
    out.imaginary.resize(out.real.size());
    std::vector<double> late_s(padded, 0.0);
    for (std::size_t e = 0; e < context.elements.count; ++e) {
        late_s[e] = context.fault_delay_s[e] + (plan.residual_s.empty() ? 0.0 : plan.residual_s[e]);
    }
    for (int k = 0; k < plan.bins; ++k) {
        const double f = (plan.first_bin + k) * plan.bin_Hz;
        const std::size_t at = static_cast<std::size_t>(k) * padded;
        HWY_DYNAMIC_DISPATCH(path_factors)
        (f, path_constant(context.medium, f, context.center_Hz), plan.reference_path_m.data(), late_s.data(), padded,
         out.real.data() + at, out.imaginary.data() + at);
    }
    out.row.resize(out.pulse.size() * context.elements.count);
    for (std::size_t e = 0; e < context.elements.count; ++e) {
        for (std::size_t k = 0; k < out.pulse.size(); ++k) {
            const float re = out.real[k * padded + e];
            const float im = out.imaginary[k * padded + e];
            const std::complex<float> pulse = out.pulse[k];
            out.row[e * out.pulse.size() + k] = {pulse.real() * re - pulse.imag() * im,
                                                 pulse.real() * im + pulse.imag() * re};
        }
    }
    return out;
}

}  // namespace echoloom
#endif  // HWY_ONCE
