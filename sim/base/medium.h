#pragma once
/// What fills the space between the array and its targets.

#include <cmath>
#include <numbers>

namespace echoloom {

struct Medium {
    double sound_speed_m_s = 1540.0;
    double attenuation_dB_cm_MHz = 0.0;  ///< coefficient a0 of a(f) = a0 f^n, f in MHz, one way
    double attenuation_exponent = 1.0;   ///< n
    bool dispersive = false;             ///< causal dispersion that goes with the attenuation (Szabo 1995)

    /// Amplitude attenuation a(f) in nepers per metre. 1 Np = 20/ln(10) dB = 8.685889638 dB.
    double attenuation_Np_m(double frequency_Hz) const {
        const double dB_per_cm = attenuation_dB_cm_MHz * std::pow(std::abs(frequency_Hz) * 1e-6, attenuation_exponent);
        return dB_per_cm * 100.0 * std::numbers::ln10 / 20.0;
    }
};

}  // namespace echoloom
