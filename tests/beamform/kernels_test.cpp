/// The innermost sums against their plain twins, and the parts they are made of.

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

#include "recon/beamform/fft.h"
#include "recon/beamform/sum_kernels.h"
#include "recon/beamform/taps.h"
#include "recon/beamform/trace_preparation.h"
#include "tests/base/message.h"
#include "tests/beamform/synthetic.h"

namespace echoloom {
namespace {

using std::numbers::pi;
using testing::noise;

TEST(Kernels, LineSumsEqualTheirPlainTwinForAnyCountOfTerms) {
    std::vector<float> bank(5000);
    for (std::size_t i = 0; i < bank.size(); ++i) {
        bank[i] = static_cast<float>(noise(i));
    }
    for (const auto interpolation : {Interpolation::linear, Interpolation::cubic, Interpolation::upsampled}) {
        const TapTable taps(interpolation, 1);
        for (std::size_t count = 0; count < 70; ++count) {
            std::vector<LineTerm> terms;
            for (std::size_t i = 0; i < count; ++i) {
                const double at = (0.5 + 0.5 * noise(1000 * count + i)) * 4996.0;
                const auto phase = static_cast<std::uint32_t>((0.5 + 0.5 * noise(7000 * count + i)) * phases);
                terms.push_back({static_cast<std::uint32_t>(at), phase, static_cast<float>(noise(i + count))});
            }
            const double plain = sum_line_terms_plain(terms, bank.data(), interpolation);
            EXPECT_NEAR(sum_line_terms(terms, bank.data(), taps), plain, 2e-6 * (1.0 + std::sqrt(double(count))));
        }
    }
}

TEST(Kernels, TapsReproducePolynomialsOfTheirDegree) {
    const auto at = [](const TapTable& taps, int phase, auto polynomial) {
        const float* row = taps.row(static_cast<std::uint32_t>(phase));
        double sum = 0.0;
        for (int j = 0; j < 4; ++j) {
            sum += static_cast<double>(row[j]) * polynomial(j - 1.0);
        }
        return sum;
    };
    const TapTable linear(Interpolation::linear, 1);
    const TapTable cubic(Interpolation::cubic, 1);
    for (int phase = 0; phase < phases; ++phase) {
        const double f = static_cast<double>(phase) / phases;
        EXPECT_NEAR(at(linear, phase, [](double x) { return 2.0 - 3.0 * x; }), 2.0 - 3.0 * f, 1e-6);
        const auto cube = [](double x) { return 1.0 - x + 2.0 * x * x - 0.5 * x * x * x; };
        EXPECT_NEAR(at(cubic, phase, cube), cube(f), 2e-6);
    }
}

TEST(Transform, LengthsAreEvenAndSmooth) {
    EXPECT_EQ(smooth_length(1), 2U);
    EXPECT_EQ(smooth_length(11), 12U);
    EXPECT_EQ(smooth_length(4224), 4320U);
    EXPECT_EQ(smooth_length(4096), 4096U);
}

/// A tone burst that is over well before the ends: twice the rate must give the burst at the half samples too, and the
/// analytic signal's imaginary part must be the burst a quarter turn later.
TEST(Transform, EventsThatThirtyTwoBitsCannotCountAreRefused) {
    RecordingInfo info;
    const auto outcome = [&](std::size_t channels, std::size_t samples) {
        info.channels = channels;
        info.samples = samples;
        return message_of([&] { TracePreparation(info, Recipe{}, TracePreparation::Form::analytic); });
    };
    EXPECT_EQ(outcome(128, 4096), "no error");
    EXPECT_EQ(outcome(70000, 70000),
              "2 70000 channels of 70000 samples are more than an image can be formed from; record fewer channels or "
              "less depth");
    EXPECT_NE(outcome(1, 1073741800).find("samples are more than"), std::string::npos) << outcome(1, 1073741800);
    EXPECT_NE(outcome(1, std::size_t{1} << 40).find("are more than"), std::string::npos);
}

TEST(Transform, RaisesTheRateAndMakesAnalytic) {
    constexpr std::size_t samples = 400;
    const auto burst = [](double n, double turn) {
        const double u = (n - 190.3) / 18.0;
        return std::exp(-0.5 * u * u) * std::cos(2.0 * pi * 0.16 * (n - 190.3) - turn);
    };
    std::vector<float> trace(samples);
    for (std::size_t n = 0; n < samples; ++n) {
        trace[n] = static_cast<float>(burst(static_cast<double>(n), 0.0));
    }
    for (const int factor : {1, 2}) {
        const TraceTransform real(samples, factor, TraceTransform::Output::real);
        const TraceTransform analytic(samples, factor, TraceTransform::Output::analytic);
        TraceTransform::Workspace real_work(real);
        TraceTransform::Workspace analytic_work(analytic);
        std::vector<float> raised(real.output_samples());
        std::vector<float> pair(2 * analytic.output_samples());
        real.run(trace, raised, real_work);
        analytic.run(trace, pair, analytic_work);
        for (std::size_t i = 0; i < raised.size(); ++i) {
            const double n = static_cast<double>(i) / factor;
            EXPECT_NEAR(raised[i], burst(n, 0.0), 3e-6);
            EXPECT_NEAR(pair[2 * i], burst(n, 0.0), 3e-6);
            EXPECT_NEAR(pair[2 * i + 1], burst(n, pi / 2.0), 3e-6);
        }
    }
}

}  // namespace
}  // namespace echoloom
