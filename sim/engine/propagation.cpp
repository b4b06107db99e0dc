#include "sim/engine/propagation.h"

#include <fftw3.h>

#include <algorithm>
#include <cmath>
#include <memory>
#include <numbers>

namespace echoloom {

namespace {

struct PlanDeleter {
    void operator()(fftw_plan plan) const { fftw_destroy_plan(plan); }
};
using Plan = std::unique_ptr<std::remove_pointer_t<fftw_plan>, PlanDeleter>;

constexpr std::size_t record_length = 16384;  // long enough for the slow tails of zero-phase attenuation to fade

/// Spectrum of an echo after `path_m` on the bins of a long record.
std::vector<std::complex<double>> echo_spectrum(const Pulse& pulse, const Medium& medium, double reference_Hz,
                                                double bin_Hz, double path_m) {
    std::vector<std::complex<double>> spectrum(record_length / 2 + 1);
    for (std::size_t k = 0; k < spectrum.size(); ++k) {
        const double f = static_cast<double>(k) * bin_Hz;
        spectrum[k] = pulse_spectrum(pulse, f) * std::exp(-path_constant(medium, f, reference_Hz) * path_m);
    }
    return spectrum;
}

EchoTable::Band find_band(const std::vector<std::complex<double>>& spectrum, double bin_Hz, double level) {
    double peak = 0.0;
    for (const auto& value : spectrum) {
        peak = std::max(peak, std::abs(value));
    }
    std::size_t low = 0;
    std::size_t high = spectrum.size() - 1;
    while (low < high && std::abs(spectrum[low]) < level * peak) {
        ++low;
    }
    while (high > low && std::abs(spectrum[high]) < level * peak) {
        --high;
    }
    return {static_cast<double>(low) * bin_Hz, static_cast<double>(high) * bin_Hz};
}

constexpr std::size_t levels = 12;

/// Shortest span about sample 0 that leaves at most `tolerance`^2 of the energy outside, half on either side.
EchoSpan find_span(const std::vector<double>& echo, double tolerance) {
    const std::size_t n = echo.size();
    double energy = 0.0;
    for (double value : echo) {
        energy += value * value;
    }
    const double allowed = tolerance * tolerance * energy / 2.0;
    const auto reach = [&](auto sample_at) {
        double outside = 0.0;
        auto length = static_cast<int>(n / 2) - 1;
        while (length > 1) {
            const double value = sample_at(static_cast<std::size_t>(length));
            outside += value * value;
            if (outside > allowed) {
                break;
            }
            --length;
        }
        return length + 1;
    };
    return {reach([&](std::size_t i) { return echo[n - i]; }), reach([&](std::size_t i) { return echo[i]; })};
}

}  // namespace

std::complex<double> path_constant(const Medium& medium, double frequency_Hz, double reference_Hz) {
    const double attenuation = medium.attenuation_Np_m(frequency_Hz);
    const double f = std::abs(frequency_Hz);
    if (!medium.dispersive || f == 0.0) {
        return {attenuation, 0.0};
    }
    using std::numbers::pi;
    const double omega = 2.0 * pi * f;
    const double reference = 2.0 * pi * reference_Hz;
    const double y = medium.attenuation_power;
    // alpha0 in Np/m/(rad/s)^y from the coefficient in dB/cm/MHz^y.
    const double alpha0 = medium.attenuation_Np_m(1e6) / std::pow(2.0 * pi * 1e6, y);
    const double slowness_change =
        std::abs(y - 1.0) < 1e-9
            ? -(2.0 / pi) * alpha0 * std::log(omega / reference)
            : alpha0 * std::tan(pi * y / 2.0) * (std::pow(omega, y - 1.0) - std::pow(reference, y - 1.0));
    return {attenuation, omega * slowness_change};
}

EchoTable::EchoTable(const Pulse& pulse, const Medium& medium, double reference_Hz, double sampling_rate_Hz,
                     double longest_path_m, double tolerance)
    : pulse_(pulse), medium_(medium), reference_Hz_(reference_Hz), tolerance_(tolerance) {
    const std::size_t entries = medium.attenuation_dB_cm_MHz > 0.0 ? 33 : 1;
    step_m_ = entries > 1 ? longest_path_m / static_cast<double>(entries - 1) : 1.0;
    const double bin_Hz = sampling_rate_Hz / static_cast<double>(record_length);
    std::vector<double> echo(record_length);
    std::vector<std::complex<double>> work(record_length / 2 + 1);
    const Plan plan(fftw_plan_dft_c2r_1d(static_cast<int>(record_length), reinterpret_cast<fftw_complex*>(work.data()),
                                         echo.data(), FFTW_ESTIMATE));
    for (std::size_t i = 0; i < entries; ++i) {
        work = echo_spectrum(pulse, medium, reference_Hz, bin_Hz, static_cast<double>(i) * step_m_);
        bands_.push_back(find_band(work, bin_Hz, tolerance / 3.0));
        fftw_execute_dft_c2r(plan.get(), reinterpret_cast<fftw_complex*>(work.data()), echo.data());
        spans_.emplace_back();
        for (std::size_t level = 0; level < (entries > 1 ? levels : 1); ++level) {
            spans_.back().push_back(find_span(echo, std::ldexp(tolerance, -static_cast<int>(level))));
        }
    }
}

std::size_t EchoTable::entry(double path_m, bool up) const {
    const double at = path_m / step_m_;
    const double whole = up ? std::ceil(at) : std::floor(at);
    return std::min(static_cast<std::size_t>(std::max(whole, 0.0)), spans_.size() - 1);
}

EchoSpan EchoTable::span(double least_path_m, double most_path_m, double part) const {
    EchoSpan widest;
    const double halvings = std::ceil(std::log2(std::max(tolerance_ / part, 1.0)));
    for (std::size_t i = entry(least_path_m, false); i <= entry(most_path_m, true); ++i) {
        const EchoSpan& span = spans_[i][std::min(static_cast<std::size_t>(halvings), spans_[i].size() - 1)];
        widest.before = std::max(widest.before, span.before);
        widest.after = std::max(widest.after, span.after);
    }
    return widest;
}

EchoTable::Band EchoTable::band(double least_path_m, double most_path_m) const {
    Band widest = bands_[entry(least_path_m, false)];
    for (std::size_t i = entry(least_path_m, false); i <= entry(most_path_m, true); ++i) {
        widest.low_Hz = std::min(widest.low_Hz, bands_[i].low_Hz);
        widest.high_Hz = std::max(widest.high_Hz, bands_[i].high_Hz);
    }
    return widest;
}

std::vector<EchoTable::Amplitude> EchoTable::amplitudes(double path_m, std::size_t count) const {
    const Band range = band(path_m, path_m);
    std::vector<Amplitude> out;
    for (std::size_t i = 0; i < count; ++i) {
        const double f =
            range.low_Hz + (range.high_Hz - range.low_Hz) * (static_cast<double>(i) + 0.5) / static_cast<double>(count);
        out.push_back(
            {f, std::abs(pulse_spectrum(pulse_, f) * std::exp(-path_constant(medium_, f, reference_Hz_) * path_m))});
    }
    return out;
}

EchoSpan EchoTable::widest() const {
    return span(0.0, step_m_ * static_cast<double>(spans_.size() - 1), tolerance_);
}

}  // namespace echoloom
