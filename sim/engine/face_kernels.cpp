#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "sim/engine/face_kernels.cpp"
#include <hwy/foreach_target.h>  // compiles this file once for each target
// foreach_target.h must stand before highway.h
#include <hwy/contrib/math/math-inl.h>
#include <hwy/highway.h>

#include <cmath>
#include <complex>
#include <numbers>

#include "sim/engine/face_kernels.h"
#include "sim/engine/half_angle.h"

HWY_BEFORE_NAMESPACE();
namespace echoloom::HWY_NAMESPACE {

namespace hn = hwy::HWY_NAMESPACE;

template <class D>
using VecOf = hn::Vec<D>;

/// State of the recurrence of one point for one vector of places.
template <class D>
struct PointState {
    VecOf<D> re, im, step_re, step_im, moment, excess;
    HWY_INLINE PointState() {}  // Arm's vectors have constructors, which one made by the compiler may not call
};

template <class D>
HWY_INLINE void turn_to_phasor(D d, VecOf<D> turns, VecOf<D> gain, VecOf<D>& re, VecOf<D>& im) {
    const auto x = hn::Sub(turns, hn::Round(turns));
    const auto square = hn::Mul(x, x);
    const auto series = [&](const auto& coefficients) HWY_ATTR {
        auto sum = hn::Zero(d);
        for (const float each : coefficients) {
            sum = hn::MulAdd(sum, square, hn::Set(d, each));
        }
        return sum;
    };
    const auto sine = hn::Mul(x, series(half_sine));
    const auto cosine = series(half_cosine);
    const auto twice = hn::Mul(gain, hn::Add(sine, sine));
    re = hn::NegMulAdd(twice, sine, gain);
    im = hn::Neg(hn::Mul(twice, cosine));
}

template <class D>
HWY_INLINE PointState<D> start_point(D d, const PathSum& sum, const FacePoint& point, std::size_t place) {
    using V = VecOf<D>;
    PointState<D> out;
    const V path = hn::Load(d, sum.path + place);
    const V added =
        hn::NegMulAdd(hn::Set(d, 2.0F * point.lateral), hn::Load(d, sum.lateral + place), hn::Set(d, point.square));
    const V whole = hn::Sqrt(hn::MulAdd(path, path, added));
    // One division for both 1 / whole and added / (whole + path).
    const V sum_of_paths = hn::Add(whole, path);
    const V quotient = hn::Div(hn::Set(d, 1.0F), hn::Mul(whole, sum_of_paths));
    const V inverse = hn::Mul(quotient, sum_of_paths);
    const V excess = hn::Mul(added, hn::Mul(whole, quotient));
    const V ratio = hn::Mul(path, inverse);
    V gain = hn::Mul(hn::Set(d, point.weight), ratio);
    if (sum.obliquity == Obliquity::whole) {
        gain = hn::Mul(gain, hn::Mul(hn::Load(d, sum.normal + place), inverse));
    } else if (sum.obliquity == Obliquity::relative) {
        gain = hn::Mul(gain, ratio);
    }
    V step_gain = hn::Set(d, 1.0F);
    if (sum.attenuation > 0.0) {
        gain =
            hn::Mul(gain, hn::Exp(d, hn::Mul(excess, hn::Set(d, static_cast<float>(-sum.attenuation * sum.first_Hz)))));
        step_gain = hn::Exp(d, hn::Mul(excess, hn::Set(d, static_cast<float>(-sum.attenuation * sum.step_Hz))));
    }
    const V time = hn::MulSub(excess, hn::Set(d, static_cast<float>(sum.slowness)), hn::Set(d, point.advance_s));
    turn_to_phasor(d, hn::Mul(time, hn::Set(d, static_cast<float>(sum.first_Hz))), gain, out.re, out.im);
    turn_to_phasor(d, hn::Mul(time, hn::Set(d, static_cast<float>(sum.step_Hz))), step_gain, out.step_re, out.step_im);
    out.moment = sum.moment == Moment::ratio ? hn::Neg(hn::Mul(excess, inverse)) : excess;
    out.excess = excess;
    return out;
}

/// exp(-(gr + j gi)) by its series to third order: over a cell what is not proportional to frequency is small.
template <class D>
HWY_INLINE void small_exponential(D d, VecOf<D> gr, VecOf<D> gi, VecOf<D>& re, VecOf<D>& im) {
    using V = VecOf<D>;
    const V one = hn::Set(d, 1.0F);
    const V sixth = hn::Set(d, 1.0F / 6.0F);
    V pr = hn::NegMulAdd(gr, sixth, hn::Set(d, 0.5F));
    V pi = hn::Neg(hn::Mul(gi, sixth));
    V tr = hn::NegMulAdd(gi, pi, hn::Mul(gr, pr));
    V ti = hn::MulAdd(gr, pi, hn::Mul(gi, pr));
    pr = hn::Sub(tr, one);
    pi = ti;
    tr = hn::NegMulAdd(gi, pi, hn::MulAdd(gr, pr, one));
    ti = hn::MulAdd(gr, pi, hn::Mul(gi, pr));
    re = tr;
    im = ti;
}

template <std::size_t points, std::size_t order, bool with_rest, class D>
HWY_INLINE void run_points(D d, const PathSum& sum, std::size_t first_point, std::size_t place) {
    using V = VecOf<D>;
    PointState<D> state[points];
    for (std::size_t q = 0; q < points; ++q) {
        state[q] = start_point(d, sum, sum.points[first_point + q], place);
    }
    const bool fresh = first_point == 0;
    for (std::size_t k = 0; k < sum.bins; ++k) {
        const std::size_t at = k * sum.places + place;
        V total[2 * (order + 1)];
        for (std::size_t i = 0; i < 2 * (order + 1); ++i) {
            total[i] = fresh ? hn::Zero(d) : hn::Load(d, sum.out[i] + at);
        }
        for (std::size_t q = 0; q < points; ++q) {
            PointState<D>& p = state[q];
            V own_re = p.re;
            V own_im = p.im;
            if constexpr (with_rest) {
                V factor_re;
                V factor_im;
                small_exponential(d, hn::Mul(hn::Set(d, sum.rest[k].real()), p.excess),
                                  hn::Mul(hn::Set(d, sum.rest[k].imag()), p.excess), factor_re, factor_im);
                own_re = hn::NegMulAdd(p.im, factor_im, hn::Mul(p.re, factor_re));
                own_im = hn::MulAdd(p.im, factor_re, hn::Mul(p.re, factor_im));
            }
            total[0] = hn::Add(total[0], own_re);
            total[1] = hn::Add(total[1], own_im);
            if constexpr (order > 0) {
                total[2] = hn::MulAdd(p.moment, own_re, total[2]);
                total[3] = hn::MulAdd(p.moment, own_im, total[3]);
            }
            if constexpr (order > 1) {
                const V square = hn::Mul(p.moment, p.moment);
                total[4] = hn::MulAdd(square, own_re, total[4]);
                total[5] = hn::MulAdd(square, own_im, total[5]);
            }
            const V next = hn::NegMulAdd(p.im, p.step_im, hn::Mul(p.re, p.step_re));
            p.im = hn::MulAdd(p.re, p.step_im, hn::Mul(p.im, p.step_re));
            p.re = next;
        }
        for (std::size_t i = 0; i < 2 * (order + 1); ++i) {
            hn::Store(total[i], d, sum.out[i] + at);
        }
    }
}

template <std::size_t order, bool with_rest>
void run_sum(const PathSum& sum) {
    const hn::CappedTag<float, element_group> d;
    for (std::size_t place = 0; place < sum.places; place += hn::Lanes(d)) {
        std::size_t point = 0;
        for (; point + 4 <= sum.count; point += 4) {
            run_points<4, order, with_rest>(d, sum, point, place);
        }
        if (point + 2 <= sum.count) {
            run_points<2, order, with_rest>(d, sum, point, place);
            point += 2;
        }
        if (point < sum.count) {
            run_points<1, order, with_rest>(d, sum, point, place);
        }
    }
}

template <std::size_t order>
void run_order(const PathSum& sum) {
    sum.rest != nullptr ? run_sum<order, true>(sum) : run_sum<order, false>(sum);
}

void path_sum(const PathSum& sum) {
    switch (sum.order) {
        case 0:
            run_order<0>(sum);
            break;
        case 1:
            run_order<1>(sum);
            break;
        default:
            run_order<2>(sum);
    }
}

/// H = C0 E0 - j k (C1 - C2 / R) E1 - k^2 / 2 C2 E2, into `real` and `imaginary`; C2 and E2 are 0 at first order.
void combine(const PathSum& across, const PathSum& up, float* real, float* imaginary) {
    const hn::CappedTag<float, element_group> d;
    for (std::size_t place = 0; place < up.places; place += hn::Lanes(d)) {
        const auto curvature = hn::Div(hn::Set(d, 1.0F), hn::Load(d, up.path + place));
        for (std::size_t k = 0; k < up.bins; ++k) {
            const double frequency = up.first_Hz + static_cast<double>(k) * up.step_Hz;
            const auto wavenumber = static_cast<float>(2.0 * std::numbers::pi * frequency * up.slowness);
            const auto turn = hn::Set(d, wavenumber);
            const std::size_t i = k * up.places + place;
            const auto load = [&](const float* from) HWY_ATTR { return hn::Load(d, from + i); };
            const auto e_re = load(up.out[0]);
            const auto e_im = load(up.out[1]);
            const auto c_re = load(across.out[0]);
            const auto c_im = load(across.out[1]);
            auto re = hn::NegMulAdd(c_im, e_im, hn::Mul(c_re, e_re));
            auto im = hn::MulAdd(c_re, e_im, hn::Mul(c_im, e_re));
            auto c1_re = load(across.out[2]);
            auto c1_im = load(across.out[3]);
            if (up.order > 1) {
                const auto c2_re = load(across.out[4]);
                const auto c2_im = load(across.out[5]);
                const auto e2_re = load(up.out[4]);
                const auto e2_im = load(up.out[5]);
                c1_re = hn::NegMulAdd(c2_re, curvature, c1_re);
                c1_im = hn::NegMulAdd(c2_im, curvature, c1_im);
                const auto half = hn::Set(d, -0.5F * wavenumber * wavenumber);
                re = hn::MulAdd(half, hn::NegMulAdd(c2_im, e2_im, hn::Mul(c2_re, e2_re)), re);
                im = hn::MulAdd(half, hn::MulAdd(c2_re, e2_im, hn::Mul(c2_im, e2_re)), im);
            }
            const auto e1_re = load(up.out[2]);
            const auto e1_im = load(up.out[3]);
            const auto mixed_re = hn::NegMulAdd(c1_im, e1_im, hn::Mul(c1_re, e1_re));
            const auto mixed_im = hn::MulAdd(c1_re, e1_im, hn::Mul(c1_im, e1_re));
            hn::Store(hn::MulAdd(turn, mixed_im, re), d, real + i);
            hn::Store(hn::NegMulAdd(turn, mixed_re, im), d, imaginary + i);
        }
    }
}

void run_interpolation(const BinInterpolation& run) {
    const hn::CappedTag<float, element_group> d;
    using V = VecOf<decltype(d)>;
    constexpr std::size_t taps = coarse_taps;
    for (std::size_t place = 0; place < run.places; place += hn::Lanes(d)) {
        for (std::size_t base = 0; base * run.stride < run.bins; ++base) {
            V near[taps];
            for (std::size_t t = 0; t < taps; ++t) {
                near[t] = hn::Load(d, run.coarse + (base + t) * run.places + place);
            }
            for (std::size_t i = 0; i < run.stride && base * run.stride + i < run.bins; ++i) {
                const float* w = run.weights + i * taps;
                V even = hn::Mul(near[0], hn::Set(d, w[0]));
                V odd = hn::Mul(near[1], hn::Set(d, w[1]));
                for (std::size_t t = 2; t < taps; t += 2) {
                    even = hn::MulAdd(near[t], hn::Set(d, w[t]), even);
                    odd = hn::MulAdd(near[t + 1], hn::Set(d, w[t + 1]), odd);
                }
                hn::Store(hn::Add(even, odd), d, run.fine + (base * run.stride + i) * run.places + place);
            }
        }
    }
}

/// A scatterer seen from faces in a row: offsets along their laterals and normals, and its middle path.
template <class D>
struct SeenFrom {
    VecOf<D> lateral, normal, path;
    HWY_INLINE SeenFrom() {}  // as PointState
};

template <class D>
HWY_INLINE SeenFrom<D> seen_from(D d, const ElementArrays& a, std::size_t first, const Scatterer& s,
                                 double middle_square) {
    const auto load = [&](const std::vector<double>& array) HWY_ATTR { return hn::LoadU(d, array.data() + first); };
    const auto dx = hn::Sub(hn::Set(d, s.x_m), load(a.center_x));
    const auto dy = hn::Sub(hn::Set(d, s.y_m), load(a.center_y));
    const auto dz = hn::Sub(hn::Set(d, s.z_m), load(a.center_z));
    SeenFrom<D> out;
    out.lateral = hn::MulAdd(dx, load(a.lateral_x), hn::MulAdd(dy, load(a.lateral_y), hn::Mul(dz, load(a.lateral_z))));
    out.normal = hn::MulAdd(dx, load(a.normal_x), hn::MulAdd(dy, load(a.normal_y), hn::Mul(dz, load(a.normal_z))));
    out.path =
        hn::Sqrt(hn::MulAdd(out.lateral, out.lateral, hn::MulAdd(out.normal, out.normal, hn::Set(d, middle_square))));
    return out;
}

/// Path, lateral and normal offsets of one scatterer from faces in a row, in double, stored in float.
void place_scatterer(const ElementArrays& a, const Scatterer& s, double middle_square, float* path, float* lateral,
                     float* normal) {
    const hn::ScalableTag<double> d;
    const hn::Rebind<float, decltype(d)> df;
    for (std::size_t i = 0; i < a.padded; i += hn::Lanes(d)) {
        const auto seen = seen_from(d, a, i, s, middle_square);
        hn::StoreU(hn::DemoteTo(df, seen.path), df, path + i);
        hn::StoreU(hn::DemoteTo(df, seen.lateral), df, lateral + i);
        hn::StoreU(hn::DemoteTo(df, seen.normal), df, normal + i);
    }
}

/// The middle path's own term at one vector of nodes.
struct MiddlePath {
    alignas(64) float amplitude[element_group];
    alignas(64) float first_turns[element_group];
    alignas(64) float step_turns[element_group];
    alignas(64) float extra_path[element_group];
};

void fill_middle(const NodeRun& run, std::size_t first, MiddlePath& out) {
    const ElementArrays& a = run.group->elements;
    const WindowPlan& plan = run.group->plan;
    const hn::ScalableTag<double> d;
    const hn::Rebind<float, decltype(d)> df;
    const auto slowness = hn::Set(d, 1.0 / run.context->medium.sound_speed_m_s);
    const double area = 4.0 * a.half_width[0] * a.half_height[0] / (2.0 * std::numbers::pi);
    for (std::size_t i = 0; i < element_group; i += hn::Lanes(d)) {
        const std::size_t e = first + i;
        const auto load = [&](const std::vector<double>& array) HWY_ATTR { return hn::LoadU(d, array.data() + e); };
        const auto path = seen_from(d, a, e, *run.scatterer, run.middle_square).path;
        const auto time = hn::MulSub(path, slowness, load(plan.reference_s));
        const auto store = [&](auto value, float* to) HWY_ATTR { hn::StoreU(hn::DemoteTo(df, value), df, to + i); };
        const auto whole_turns_off = [&](auto turns) HWY_ATTR { return hn::Sub(turns, hn::Round(turns)); };
        store(hn::Div(hn::Set(d, area), path), out.amplitude);
        store(whole_turns_off(hn::Mul(time, hn::Set(d, plan.first_bin * plan.bin_Hz))), out.first_turns);
        store(whole_turns_off(hn::Mul(time, hn::Set(d, plan.bin_Hz))), out.step_turns);
        store(hn::Sub(path, load(plan.reference_path_m)), out.extra_path);
    }
}

/// The factor times the middle path's recurrence, at `vectors` vectors of nodes, `chunk` bins at a time.
template <std::size_t vectors, bool with_rest, class D>
HWY_INLINE void run_nodes(D d, const NodeRun& run, const MiddlePath* middle, std::size_t lane_in_middle,
                          std::size_t node) {
    using V = VecOf<D>;
    constexpr std::size_t chunk = 4;
    const WindowPlan& plan = run.group->plan;
    const std::size_t lanes = hn::Lanes(d);
    const std::size_t nodes = run.group->elements.padded;
    const auto bins = static_cast<std::size_t>(plan.bins);
    V re[vectors];
    V im[vectors];
    V step_re[vectors];
    V step_im[vectors];
    V extra[vectors];
    for (std::size_t v = 0; v < vectors; ++v) {
        const std::size_t lane = lane_in_middle + v * lanes;
        const MiddlePath& m = middle[lane / element_group];
        const std::size_t at = lane % element_group;
        extra[v] = hn::Load(d, m.extra_path + at);
        V gain = hn::Load(d, m.amplitude + at);
        V step_gain = hn::Set(d, 1.0F);
        if (plan.linear_attenuation > 0.0) {
            const double first = -plan.linear_attenuation * plan.first_bin * plan.bin_Hz;
            const double step = -plan.linear_attenuation * plan.bin_Hz;
            gain = hn::Mul(gain, hn::Exp(d, hn::Mul(extra[v], hn::Set(d, static_cast<float>(first)))));
            step_gain = hn::Exp(d, hn::Mul(extra[v], hn::Set(d, static_cast<float>(step))));
        }
        turn_to_phasor(d, hn::Load(d, m.first_turns + at), gain, re[v], im[v]);
        turn_to_phasor(d, hn::Load(d, m.step_turns + at), step_gain, step_re[v], step_im[v]);
    }
    const float* weights = run.group->from_places.data() + node;
    for (std::size_t k0 = 0; k0 < bins; k0 += chunk) {
        V h_re[chunk][vectors];
        V h_im[chunk][vectors];
        const std::size_t count = bins - k0 < chunk ? bins - k0 : chunk;
        if (run.used == 0) {
            for (std::size_t b = 0; b < count; ++b) {
                for (std::size_t v = 0; v < vectors; ++v) {
                    const std::size_t at = (k0 + b) * run.stride + node + v * lanes;
                    h_re[b][v] = hn::Load(d, run.factor_real + at);
                    h_im[b][v] = hn::Load(d, run.factor_imaginary + at);
                }
            }
        } else {
            for (std::size_t b = 0; b < chunk; ++b) {
                for (std::size_t v = 0; v < vectors; ++v) {
                    h_re[b][v] = hn::Zero(d);
                    h_im[b][v] = hn::Zero(d);
                }
            }
            // The factor has room for a whole chunk beyond its last bin.
            for (std::size_t m = 0; m < run.used; ++m) {
                V w[vectors];
                for (std::size_t v = 0; v < vectors; ++v) {
                    w[v] = hn::Load(d, weights + m * nodes + v * lanes);
                }
                for (std::size_t b = 0; b < chunk; ++b) {
                    const V fr = hn::Set(d, run.factor_real[(k0 + b) * run.stride + m]);
                    const V fi = hn::Set(d, run.factor_imaginary[(k0 + b) * run.stride + m]);
                    for (std::size_t v = 0; v < vectors; ++v) {
                        h_re[b][v] = hn::MulAdd(fr, w[v], h_re[b][v]);
                        h_im[b][v] = hn::MulAdd(fi, w[v], h_im[b][v]);
                    }
                }
            }
        }
        for (std::size_t b = 0; b < count; ++b) {
            float* to_re = run.real + (k0 + b) * run.bin_step + node;
            float* to_im = run.imaginary + (k0 + b) * run.bin_step + node;
            for (std::size_t v = 0; v < vectors; ++v) {
                V pr = re[v];
                V pi = im[v];
                if constexpr (with_rest) {
                    V fr;
                    V fi;
                    small_exponential(d, hn::Mul(hn::Set(d, run.rest[k0 + b].real()), extra[v]),
                                      hn::Mul(hn::Set(d, run.rest[k0 + b].imag()), extra[v]), fr, fi);
                    pr = hn::NegMulAdd(im[v], fi, hn::Mul(re[v], fr));
                    pi = hn::MulAdd(im[v], fr, hn::Mul(re[v], fi));
                }
                hn::Store(hn::NegMulAdd(pi, h_im[b][v], hn::Mul(pr, h_re[b][v])), d, to_re + v * lanes);
                hn::Store(hn::MulAdd(pr, h_im[b][v], hn::Mul(pi, h_re[b][v])), d, to_im + v * lanes);
                const V next = hn::NegMulAdd(im[v], step_im[v], hn::Mul(re[v], step_re[v]));
                im[v] = hn::MulAdd(re[v], step_im[v], hn::Mul(im[v], step_re[v]));
                re[v] = next;
            }
        }
    }
}

template <bool with_rest>
void run_group(const NodeRun& run) {
    const hn::CappedTag<float, element_group> d;
    const std::size_t lanes = hn::Lanes(d);
    constexpr std::size_t vectors = HWY_MAX_BYTES >= 64 ? 2 : 1;
    const std::size_t nodes = run.group->elements.padded;
    MiddlePath middle[2];
    for (std::size_t node = 0; node < nodes; node += 2 * element_group) {
        const std::size_t width = nodes - node < 2 * element_group ? nodes - node : 2 * element_group;
        for (std::size_t i = 0; i < width; i += element_group) {
            fill_middle(run, node + i, middle[i / element_group]);
        }
        std::size_t lane = 0;
        for (; lane + vectors * lanes <= width; lane += vectors * lanes) {
            run_nodes<vectors, with_rest>(d, run, middle, lane, node + lane);
        }
        for (; lane < width; lane += lanes) {
            run_nodes<1, with_rest>(d, run, middle, lane, node + lane);
        }
    }
}

void node_run(const NodeRun& run) {
    run.rest != nullptr ? run_group<true>(run) : run_group<false>(run);
}

}  // namespace echoloom::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace echoloom {

HWY_EXPORT(path_sum);
HWY_EXPORT(combine);
HWY_EXPORT(run_interpolation);
HWY_EXPORT(place_scatterer);
HWY_EXPORT(node_run);

void sum_over_face(const PathSum& sum) {
    HWY_DYNAMIC_DISPATCH(path_sum)(sum);
}

void combine_sums(const PathSum& across, const PathSum& up, float* real, float* imaginary) {
    HWY_DYNAMIC_DISPATCH(combine)(across, up, real, imaginary);
}

void interpolate_bins(const BinInterpolation& run) {
    HWY_DYNAMIC_DISPATCH(run_interpolation)(run);
}

void find_offsets(const ElementArrays& faces, const Scatterer& scatterer, double middle_square, float* path,
                  float* lateral, float* normal) {
    HWY_DYNAMIC_DISPATCH(place_scatterer)(faces, scatterer, middle_square, path, lateral, normal);
}

void fill_responses(const NodeRun& run) {
    HWY_DYNAMIC_DISPATCH(node_run)(run);
}

}  // namespace echoloom
#endif  // HWY_ONCE
