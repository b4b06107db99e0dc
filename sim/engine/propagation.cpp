#include "sim/engine/propagation.h"

#include <fftw3.h>

#include <algorithm>
#include <cmath>
#include <memory>
#include <numbers>

#include "sim/base/complex_product.h"

namespace echoloom {

namespace {

struct PlanDeleter {
    void operator()(fftw_plan plan) const { fftw_destroy_plan(plan); }
};
using Plan = std::unique_ptr<std::remove_pointer_t<fftw_plan>, PlanDeleter>;

constexpr std::size_t record_length = 32768;  // long enough for the slow tails of zero-phase attenuation to fade

/// What a path of `path_m` does to each bin of a long record.
std::vector<std::complex<double>> path_factors(std::size_t bins, const Medium& medium, double reference_Hz,
                                               double bin_Hz, double path_m) {
    std::vector<std::complex<double>> factors(bins);
    for (std::size_t k = 0; k < bins; ++k) {
        factors[k] = std::exp(-path_constant(medium, static_cast<double>(k) * bin_Hz, reference_Hz) * path_m);
    }
    return factors;
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

/// Energy of the real signal with this half spectrum, as the sum of squares of its unnormalised inverse transform.
double energy(const std::vector<std::complex<double>>& spectrum) {
    double sum = 0.0;
    for (const auto& value : spectrum) {
        sum += 2.0 * std::norm(value);
    }
    return sum * static_cast<double>(record_length);
}

/// Shortest span about sample 0 that leaves at most `allowed` energy outside on either side.
EchoSpan find_span(const std::vector<double>& echo, double allowed) {
    const std::size_t n = echo.size();
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
    const double y = medium.attenuation_exponent;
    // alpha0 in Np/m/(rad/s)^y from the coefficient in dB/cm/MHz^y.
    const double alpha0 = medium.attenuation_Np_m(1e6) / std::pow(2.0 * pi * 1e6, y);
    const double slowness_change =
        std::abs(y - 1.0) < 1e-9
            ? -(2.0 / pi) * alpha0 * std::log(omega / reference)
            : alpha0 * std::tan(pi * y / 2.0) * (std::pow(omega, y - 1.0) - std::pow(reference, y - 1.0));
    return {attenuation, omega * slowness_change};
}

std::complex<double> PulseBand::spectrum(double frequency_Hz) const {
    return pulse_spectrum(pulse, frequency_Hz) * share(frequency_Hz);
}

double PulseBand::share(double frequency_Hz) const {
    // 1 - S, right to the last figures also where it is small.
    const auto beyond = [&](double edge_Hz) {
        const double square = std::pow(frequency_Hz / edge_Hz, 2);
        return -std::expm1(-square) - square * std::exp(-square);
    };
    return (above_Hz > 0.0 ? beyond(above_Hz) : 1.0) - (below_Hz > 0.0 ? beyond(below_Hz) : 0.0);
}

EchoTable::EchoTable(const PulseBand& band, const Medium& medium, double reference_Hz, double sampling_rate_Hz,
                     double longest_path_m, double tolerance) {
    const bool lossy = medium.attenuation_dB_cm_MHz > 0.0;
    const std::size_t entries = lossy ? 33 : 1;
    step_m_ = lossy ? longest_path_m / static_cast<double>(entries - 1) : 1.0;
    const double bin_Hz = sampling_rate_Hz / static_cast<double>(record_length);
    // The part that holds the kink is judged against itself; the other dies away fast, and a few samples more keep it
    // right where directivity or a beam leaves a thousandth of the echo.
    const double left_out = tolerance / (band.holds_kink() ? 2.0 : 512.0);
    std::vector<double> echo(record_length);
    std::vector<std::complex<double>> work(record_length / 2 + 1);
    const Plan plan(fftw_plan_dft_c2r_1d(static_cast<int>(record_length), reinterpret_cast<fftw_complex*>(work.data()),
                                         echo.data(), FFTW_ESTIMATE));
    std::vector<std::complex<double>> whole(work.size());
    std::vector<double> share(work.size());
    for (std::size_t k = 0; k < whole.size(); ++k) {
        whole[k] = pulse_spectrum(band.pulse, static_cast<double>(k) * bin_Hz);
        share[k] = band.share(static_cast<double>(k) * bin_Hz);
    }
    // From one path to the next by one factor, for exponentials would take most of a small run's time.
    const auto step = lossy ? path_factors(work.size(), medium, reference_Hz, bin_Hz, step_m_)
                            : std::vector<std::complex<double>>(work.size(), 1.0);
    for (std::size_t i = 0; i < entries; ++i) {
        for (std::size_t k = 0; k < work.size(); ++k) {
            if (i > 0) {
                whole[k] = product(whole[k], step[k]);
            }
            work[k] = whole[k] * share[k];
        }
        const double own = energy(work);
        negligible_ = negligible_ && own < std::pow(tolerance / 100.0, 2) * energy(whole);
        Band found = find_band(whole, bin_Hz, band_edge_level(tolerance));
        if (!band.is_whole()) {
            found.low_Hz = 0.0;  // where the parts meet, each must be right against their sum
        }
        if (band.below_Hz > 0.0) {
            found.high_Hz = std::min(sampling_rate_Hz / 2.0, PulseBand::end_over_edge * band.below_Hz);
        }
        bands_.push_back(found);
        fftw_execute_dft_c2r(plan.get(), reinterpret_cast<fftw_complex*>(work.data()), echo.data());
        spans_.push_back(find_span(echo, left_out * left_out / 2.0 * own));
        cores_.push_back(find_span(echo, 1e-4 / 2.0 * own));
    }
}

std::size_t EchoTable::entry(double path_m, bool up) const {
    const double at = path_m / step_m_;
    const double whole = up ? std::ceil(at) : std::floor(at);
    return std::min(static_cast<std::size_t>(std::max(whole, 0.0)), spans_.size() - 1);
}

EchoSpan EchoTable::widest_of(const std::vector<EchoSpan>& spans, double min_path_m, double max_path_m) const {
    EchoSpan widest;
    for (std::size_t i = entry(min_path_m, false); i <= entry(max_path_m, true); ++i) {
        widest.before = std::max(widest.before, spans[i].before);
        widest.after = std::max(widest.after, spans[i].after);
    }
    return widest;
}

EchoSpan EchoTable::widest_core() const {
    return core(0.0, step_m_ * static_cast<double>(cores_.size() - 1));
}

double EchoTable::highest_Hz() const {
    double highest = 0.0;
    for (const Band& band : bands_) {
        highest = std::max(highest, band.high_Hz);
    }
    return highest;
}

EchoTable::Band EchoTable::band(double min_path_m, double max_path_m) const {
    Band widest = bands_[entry(min_path_m, false)];
    for (std::size_t i = entry(min_path_m, false); i <= entry(max_path_m, true); ++i) {
        widest.low_Hz = std::min(widest.low_Hz, bands_[i].low_Hz);
        widest.high_Hz = std::max(widest.high_Hz, bands_[i].high_Hz);
    }
    return widest;
}

}  // namespace echoloom
