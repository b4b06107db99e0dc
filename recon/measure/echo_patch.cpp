#include "recon/measure/echo_patch.h"

#include <algorithm>
#include <cmath>

#include "recon/measure/point_width.h"

namespace echoloom {
namespace {

/// Values per theoretical axial width, and this many widths to either side.
constexpr double axial_samples = 8.0;
constexpr double axial_reach = 3.0;

}  // namespace

std::vector<double> spaced(double reach, double step) {
    std::vector<double> values;
    const auto half = static_cast<int>(std::ceil(reach / step));
    for (int n = -half; n <= half; ++n) values.push_back(n * step);
    return values;
}

EchoPatch make_patch(const WaveScene& scene, const Frequencies& frequencies, std::vector<double> positions_m,
                     const std::function<Spectrum(double position_m)>& sum_at) {
    const Spectrum spectrum = echo_spectrum(frequencies, scene);
    EchoPatch patch;
    patch.position_m = std::move(positions_m);
    patch.depth_m = scene.terms.broadband ? spaced(axial_reach * scene.axial_theory, scene.axial_theory / axial_samples)
                                          : std::vector<double>{0.0};
    std::vector<double> envelope;
    for (const double position : patch.position_m) {
        const Spectrum sum = sum_at(position);
        for (const double depth : patch.depth_m) {
            envelope.push_back(envelope_at(frequencies, spectrum, sum, 2.0 * depth / scene.assumed_speed));
        }
    }
    const double peak = *std::ranges::max_element(envelope);
    for (const double value : envelope) patch.values.push_back(static_cast<float>(peak > 0.0 ? value / peak : 0.0));
    return patch;
}

FieldPeak peak_of(const EchoPatch& patch, double axial_theory_m) {
    const SampleView field = patch.view();
    std::size_t column = 0, depth = field.depths / 2;
    for (std::size_t c = 0; c < field.columns; ++c) {
        for (std::size_t d = 0; d < field.depths; ++d) {
            const bool inside = std::abs(patch.depth_m[d]) <= search_cells * axial_theory_m;
            if (inside && field.at(c, d) > field.at(column, depth)) {
                column = c;
                depth = d;
            }
        }
    }
    return refine_peak(field, column, depth);
}

Profile position_profile(const EchoPatch& patch, const FieldPeak& peak) {
    Profile profile{patch.position_m, {}};
    for (std::size_t c = 0; c < patch.position_m.size(); ++c) {
        profile.amplitude.push_back(interpolate(patch.view(), static_cast<double>(c), peak.depth));
    }
    return profile;
}

Profile depth_profile(const EchoPatch& patch, const FieldPeak& peak) {
    Profile profile{patch.depth_m, {}};
    for (std::size_t d = 0; d < patch.depth_m.size(); ++d) {
        profile.amplitude.push_back(interpolate(patch.view(), peak.column, static_cast<double>(d)));
    }
    return profile;
}

}  // namespace echoloom
