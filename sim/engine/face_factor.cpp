#include "sim/engine/face_factor.h"

#include <Eigen/Cholesky>
#include <algorithm>
#include <cmath>
#include <complex>

#include "sim/engine/face_kernels.h"

namespace echoloom {

int coarse_count(int bins, int stride) {
    return stride == 1 ? bins : (bins - 1) / stride + coarse_taps;
}

double coarse_turn(double error) {
    // By a fit to their worst error, in the middle and at the largest turn: 2.5e-5 at one radian. Below 0.7 the normal
    // equations would be singular.
    return std::clamp(std::pow(error / 2.5e-5, 1.0 / 8.4), 0.7, 1.8);
}

double middle_square(double offset_m, double half_height_m) {
    const double nearest = std::max(std::abs(offset_m) - half_height_m, 0.0);
    const double farthest = std::abs(offset_m) + half_height_m;
    return (nearest * nearest + farthest * farthest) / 2.0;
}

namespace {

/// Weights for a place between the fourth and fifth of eight equidistant samples that are best in the mean over phases
/// up to `turn` from one to the next.
std::vector<float> coarse_weights(int stride, double turn) {
    const auto sinc = [](double x) { return x == 0.0 ? 1.0 : std::sin(x) / x; };
    using Matrix = Eigen::Matrix<double, coarse_taps, coarse_taps>;
    using Column = Eigen::Matrix<double, coarse_taps, 1>;
    const Matrix normal =
        Matrix::NullaryExpr([&](Eigen::Index i, Eigen::Index j) { return sinc(turn * static_cast<double>(i - j)); });
    const Eigen::LDLT<Matrix> solver(normal);
    std::vector<float> out;
    for (int i = 0; i < stride; ++i) {
        const double x = coarse_before + static_cast<double>(i) / stride;
        const Column weights = solver.solve(
            Column::NullaryExpr([&](Eigen::Index t) { return sinc(turn * (static_cast<double>(t) - x)); }));
        for (const double weight : weights) {
            out.push_back(static_cast<float>(weight));
        }
    }
    return out;
}

/// gamma(f) less its straight part, at frequencies that may lie below zero by a little.
std::vector<std::complex<float>> rest_at(const EngineContext& context, const WindowPlan& plan, double first_Hz,
                                         double step_Hz, int count) {
    std::vector<std::complex<float>> rest;
    for (int k = 0; k < count; ++k) {
        const double f = std::max(first_Hz + k * step_Hz, 0.0);
        rest.emplace_back(path_constant(context.medium, f, context.center_Hz) - plan.linear_attenuation * f);
    }
    return rest;
}

/// The factor at some faces for one scatterer and some bins.
class FactorMaker {
  public:
    FactorMaker(const EngineContext& context, const FaceFactorPlan& plan, const ElementArrays& places,
                const WindowPlan& bins, bool with_rest, FaceFactorScratch& scratch)
        : plan_(plan),
          places_(places),
          scratch_(scratch),
          across_(context.rules[static_cast<std::size_t>(plan.lateral_points)]),
          up_(context.rules[static_cast<std::size_t>(plan.elevation_points)]),
          elevation_focus_m_(places.elevation_focus_m),
          sound_speed_m_s_(context.medium.sound_speed_m_s),
          half_width_(places.half_width[0]),
          half_height_(places.half_height[0]),
          bins_(static_cast<std::size_t>(bins.bins)),
          coarse_(coarse_count(bins.bins, plan.bin_stride)),
          weights_(coarse_weights(plan.bin_stride, plan.coarse_turn)) {
        const double before = plan.bin_stride > 1 ? coarse_before * plan.bin_stride : 0;
        const double first_Hz = (bins.first_bin - before) * bins.bin_Hz;
        const double step_Hz = plan.bin_stride * bins.bin_Hz;
        if (with_rest) {
            rest_ = rest_at(context, bins, first_Hz, step_Hz, coarse_);
        }
        make_room();
        sum_ = PathSum{.path = nullptr,
                       .lateral = nullptr,
                       .normal = nullptr,
                       .places = places.padded,
                       .points = nullptr,
                       .count = 0,
                       .first_Hz = first_Hz,
                       .step_Hz = step_Hz,
                       .bins = static_cast<std::size_t>(coarse_),
                       .slowness = 1.0 / context.medium.sound_speed_m_s,
                       .attenuation = bins.linear_attenuation,
                       .obliquity = Obliquity::none,
                       .moment = Moment::excess,
                       .order = 0,
                       .rest = nullptr,
                       .out = {}};
    }

    void run(const Scatterer& s, double offset, double middle) {
        // Another group's maker may have grown the scratch.
        sum_.path = scratch_.path.data();
        sum_.lateral = scratch_.lateral.data();
        sum_.normal = scratch_.normal.data();
        sum_.rest = rest_.empty() ? nullptr : rest_.data();
        find_offsets(places_, s, middle, scratch_.path.data(), scratch_.lateral.data(), scratch_.normal.data());
        // At every bin the coarse factor is the factor.
        const bool direct = plan_.bin_stride == 1;
        float* real = (direct ? scratch_.real : scratch_.coarse_real).data();
        float* imaginary = (direct ? scratch_.imaginary : scratch_.coarse_imaginary).data();
        plan_.mixed_order > 0 ? run_split(offset, middle, real, imaginary) : run_full(offset, middle, real, imaginary);
        if (!direct) {
            interpolate(real, scratch_.real.data());
            interpolate(imaginary, scratch_.imaginary.data());
        }
    }

  private:
    void interpolate(const float* coarse, float* fine) const {
        const BinInterpolation run{
            coarse, fine, places_.padded, bins_, static_cast<std::size_t>(plan_.bin_stride), weights_.data()};
        interpolate_bins(run);
    }

    void make_room() {
        const std::size_t size = (std::max(bins_, static_cast<std::size_t>(coarse_)) + 4) * places_.padded;
        for (AlignedVector<float>* each : {&scratch_.path, &scratch_.lateral, &scratch_.normal}) {
            each->resize(std::max(each->size(), places_.padded));
        }
        for (AlignedVector<float>* each :
             {&scratch_.real, &scratch_.imaginary, &scratch_.coarse_real, &scratch_.coarse_imaginary}) {
            each->resize(std::max(each->size(), size));
        }
        for (std::size_t i = 0; i < 6; ++i) {
            scratch_.elevation_sum[i].resize(std::max(scratch_.elevation_sum[i].size(), size));
            scratch_.lateral_sum[i].resize(std::max(scratch_.lateral_sum[i].size(), size));
        }
    }

    FacePoint elevation_point(std::size_t q, double offset, double middle) const {
        const double y = up_.node[q] * half_height_;
        return {static_cast<float>((offset - y) * (offset - y) - middle), 0.0F,
                static_cast<float>(-lens_delay_s(elevation_focus_m_, y, sound_speed_m_s_)),
                static_cast<float>(up_.weight[q] / 2.0)};
    }

    void run_split(double offset, double middle, float* real, float* imaginary) {
        points_.clear();
        for (std::size_t q = 0; q < up_.node.size(); ++q) {
            points_.push_back(elevation_point(q, offset, middle));
        }
        PathSum up = sum_;
        up.points = points_.data();
        up.count = points_.size();
        up.obliquity = places_.soft ? Obliquity::whole : Obliquity::none;
        const bool lateral = across_.node.size() > 1;
        up.moment = Moment::ratio;
        up.order = lateral ? plan_.mixed_order : 0;
        set_out(up, scratch_.elevation_sum);
        if (!lateral) {
            up.out[0] = real;
            up.out[1] = imaginary;
        }
        sum_over_face(up);
        if (!lateral) {
            return;
        }
        points_.clear();
        for (std::size_t i = 0; i < across_.node.size(); ++i) {
            const double x = across_.node[i] * half_width_;
            points_.push_back(
                {static_cast<float>(x * x), static_cast<float>(x), 0.0F, static_cast<float>(across_.weight[i] / 2.0)});
        }
        PathSum across = sum_;
        across.points = points_.data();
        across.count = points_.size();
        across.obliquity = places_.soft ? Obliquity::relative : Obliquity::none;
        across.order = plan_.mixed_order;
        set_out(across, scratch_.lateral_sum);
        sum_over_face(across);
        combine_sums(across, up, real, imaginary);
    }

    void run_full(double offset, double middle, float* real, float* imaginary) {
        points_.clear();
        for (std::size_t q = 0; q < up_.node.size(); ++q) {
            const FacePoint line = elevation_point(q, offset, middle);
            for (std::size_t i = 0; i < across_.node.size(); ++i) {
                const double x = across_.node[i] * half_width_;
                FacePoint point = line;
                point.square += static_cast<float>(x * x);
                point.lateral = static_cast<float>(x);
                point.weight *= static_cast<float>(across_.weight[i] / 2.0);
                points_.push_back(point);
            }
        }
        PathSum all = sum_;
        all.points = points_.data();
        all.count = points_.size();
        all.obliquity = places_.soft ? Obliquity::whole : Obliquity::none;
        all.out[0] = real;
        all.out[1] = imaginary;
        sum_over_face(all);
    }

    static void set_out(PathSum& sum, AlignedVector<float> (&to)[6]) {
        for (std::size_t i = 0; i < 6; ++i) {
            sum.out[i] = to[i].data();
        }
    }

    const FaceFactorPlan& plan_;
    const ElementArrays& places_;
    FaceFactorScratch& scratch_;
    const GaussLegendre& across_;
    const GaussLegendre& up_;
    double elevation_focus_m_;
    double sound_speed_m_s_;
    double half_width_;
    double half_height_;
    std::size_t bins_;
    int coarse_;
    std::vector<float> weights_;
    std::vector<std::complex<float>> rest_;
    PathSum sum_{};
    std::vector<FacePoint> points_;
};

}  // namespace

void compute_node_responses(const EngineContext& context, const WindowPlan& cell, const FaceFactorPlan& factor,
                            std::span<const NodeGroup> groups, std::span<const Scatterer> scatterers,
                            FaceFactorScratch& scratch, std::span<ResponseGrid> out) {
    const std::vector<std::complex<float>> rest = path_constant_rest(context, cell);
    const bool interpolated = factor.used > 0;
    std::vector<FactorMaker> makers;
    if (interpolated) {
        makers.emplace_back(context, factor, factor.places, cell, !rest.empty(), scratch);
    }
    const auto first_of = [&](const NodeGroup& group) {
        return static_cast<std::size_t>(group.plan.first_bin - cell.first_bin);
    };
    for (std::size_t g = 0; g < groups.size(); ++g) {
        out[g].start(static_cast<std::size_t>(groups[g].plan.bins), groups[g].elements.padded, scatterers);
        if (!interpolated) {
            makers.emplace_back(context, factor, groups[g].elements, groups[g].plan, !rest.empty(), scratch);
        }
    }
    const ElementArrays& first = groups.front().elements;
    const Vec3 elevation(first.elevation_x[0], first.elevation_y[0], first.elevation_z[0]);
    const Vec3 origin(first.center_x[0], first.center_y[0], first.center_z[0]);
    for (std::size_t s = 0; s < scatterers.size(); ++s) {
        const Scatterer& scatterer = scatterers[s];
        const double offset = (Vec3(scatterer.x_m, scatterer.y_m, scatterer.z_m) - origin).dot(elevation);
        const double middle = middle_square(offset, first.half_height[0]);
        if (interpolated) {
            makers.front().run(scatterer, offset, middle);
        }
        for (std::size_t g = 0; g < groups.size(); ++g) {
            if (!interpolated) {
                makers[g].run(scatterer, offset, middle);
            }
            const std::size_t skip = first_of(groups[g]);
            const std::size_t stride = interpolated ? factor.places.padded : groups[g].elements.padded;
            const std::size_t at = interpolated ? skip * stride : 0;
            const NodeRun run{.context = &context,
                              .group = &groups[g],
                              .scatterer = &scatterer,
                              .middle_square = middle,
                              .factor_real = scratch.real.data() + at,
                              .factor_imaginary = scratch.imaginary.data() + at,
                              .stride = stride,
                              .used = factor.used,
                              .rest = rest.empty() ? nullptr : rest.data() + skip,
                              .real = out[g].real.data() + out[g].at(0, s),
                              .imaginary = out[g].imaginary.data() + out[g].at(0, s),
                              .bin_step = out[g].scatterers * out[g].padded};
            fill_responses(run);
        }
    }
}

}  // namespace echoloom
