/// How traces are made ready for the sums.

#include <gtest/gtest.h>

#include <cmath>
#include <complex>
#include <numbers>

#include "recon/beamform/fft.h"
#include "recon/beamform/taps.h"
#include "recon/beamform/trace_preparation.h"
#include "tests/base/message.h"
#include "tests/beamform/synthetic.h"

namespace echoloom {
namespace {

using std::numbers::pi;
using testing::noise;

// The next even number without a factor above 5: 4320 = 2^5 3^3 5.
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
        return message_of([&] { TracePreparation(info, Recipe{}, TracePreparation::Form::pixels); });
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
        const TraceTransform apart(samples, factor, TraceTransform::Output::apart);
        TraceTransform::Workspace apart_work(apart);
        std::vector<float> parts(2 * apart.output_samples());
        apart.run(trace, parts, apart_work, apart.output_samples());
        for (std::size_t i = 0; i < raised.size(); ++i) {
            EXPECT_NEAR(parts[i], pair[2 * i], 1e-6);
            EXPECT_NEAR(parts[raised.size() + i], pair[2 * i + 1], 1e-6);
        }
    }
}

/// Relative L2 error of a Gaussian burst of 60 % bandwidth read between its samples, real and a quarter turn later.
double spline_error(double center) {
    constexpr std::size_t samples = 400;
    const double sigma = 2.0 * std::sqrt(2.0 * std::numbers::ln2) / (2.0 * pi * 0.6 * center);
    const auto burst = [&](double n, double turn) {
        const double u = (n - 190.3) / sigma;
        return std::exp(-0.5 * u * u) * std::cos(2.0 * pi * center * (n - 190.3) - turn);
    };
    std::vector<float> trace(samples);
    for (std::size_t n = 0; n < samples; ++n) {
        trace[n] = static_cast<float>(burst(static_cast<double>(n), 0.0));
    }
    const Demodulation demodulation(samples, center, 128, {});
    EXPECT_NEAR(demodulation.carrier(), center, 1.0 / samples);
    Demodulation::Workspace workspace(demodulation);
    std::vector<float> real(samples);
    std::vector<float> imaginary(samples);
    demodulation.run(trace, real, imaginary, workspace);
    double difference = 0.0;
    double energy = 0.0;
    for (double t = 150.0; t < 230.0; t += 0.0625) {
        std::complex<double> amplitude = 0.0;
        for (auto n = static_cast<std::size_t>(t) - 1; n <= static_cast<std::size_t>(t) + 2; ++n) {
            amplitude += quadratic_spline(t - static_cast<double>(n)) * std::complex<double>(real[n], imaginary[n]);
        }
        const std::complex<double> value = amplitude * std::polar(1.0, 2.0 * pi * demodulation.carrier() * t);
        const std::complex<double> exact(burst(t, 0.0), burst(t, pi / 2.0));
        difference += std::norm(value - exact);
        energy += std::norm(exact);
    }
    return std::sqrt(difference / energy);
}

TEST(Demodulation, ErrorsBetweenSamplesAreThoseStatedInTheRecipeHeader) {
    const double at_5 = spline_error(5.0 / 40.0);
    const double at_7 = spline_error(7.0 / 40.0);
    std::printf("spline of a demodulated burst: 5 MHz %.4f %%  7 MHz %.4f %%\n", 100.0 * at_5, 100.0 * at_7);
    EXPECT_NEAR(at_5 / 0.00013, 1.0, 0.1);
    EXPECT_NEAR(at_7 / 0.00023, 1.0, 0.1);
}

}  // namespace
}  // namespace echoloom
