#include "recon/measure/speckle_size.h"

#include <algorithm>
#include <cmath>
#include <span>
#include <vector>

#include "recon/measure/echo_patch.h"
#include "recon/measure/rayleigh.h"
#include "recon/measure/wave_scene.h"

namespace echoloom {
namespace {

/// Values per theoretical width, lateral and axial; the covariance is followed over this many axial widths.
constexpr double lateral_samples = 4.0;
constexpr double axial_samples = 8.0;
constexpr double axial_widths = 4.0;
/// Planes on one side of the image plane, not counting it.
constexpr int planes = 6;

/// Integral to either side of the envelope's covariance, of the field's correlation at equal steps from 0.
double covariance_integral(std::span<const Complex> correlation, double step_m) {
    const double energy = std::norm(correlation.front());
    double sum = 0.5;
    for (std::size_t n = 1; n < correlation.size(); ++n) {
        const double covariance = envelope_covariance(std::norm(correlation[n]) / energy);
        sum += n + 1 == correlation.size() ? 0.5 * covariance : covariance;
    }
    return 2.0 * step_m * sum;
}

/// Correlations of the responses of one plane added to those of others.
struct Correlations {
    std::vector<Complex> lateral;
    std::vector<double> power;  ///< at each frequency

    void add(std::span<const Spectrum> responses, double weight) {
        for (std::size_t shift = 0; shift < lateral.size(); ++shift) {
            Complex sum = 0.0;
            for (std::size_t n = shift; n < responses.size(); ++n) {
                for (std::size_t f = 0; f < power.size(); ++f) {
                    sum += product(responses[n][f], std::conj(responses[n - shift][f]));
                }
            }
            lateral[shift] += weight * sum;
        }
        for (const Spectrum& response : responses) {
            for (std::size_t f = 0; f < power.size(); ++f) power[f] += weight * std::norm(response[f]);
        }
    }
};

}  // namespace

std::optional<SpeckleSizePrediction> predict_speckle_size(const RecordingInfo& info, const Recipe& recipe,
                                                          const Vec3& place_m, const PredictionTerms& terms) {
    WaveScene scene = make_scene(info, recipe, place_m, terms);
    if (!std::isfinite(scene.lateral_theory) || !(scene.view.depth_m > 0.0)) return std::nullopt;
    const bool in_planes = scene.view.line_scan && !has_rings(info.probe) && terms.elevation;
    const PatchReach reach{lateral_reach_m(scene),
                           in_planes ? std::min(elevation_reach_m(scene), 0.9 * scene.view.depth_m) : 0.0};
    const Frequencies frequencies = frequencies_for(scene, reach);
    prepare_target(scene, frequencies, reach);
    const Spectrum pulse = echo_spectrum(frequencies, scene);
    const double step = scene.lateral_theory / lateral_samples;
    const std::vector<double> offsets = spaced(reach.lateral_m, step);
    const auto responses_of = [&](const WaveScene& plane) {
        std::vector<Spectrum> responses;
        for (const double offset : offsets) {
            Spectrum response(frequencies.count, 0.0);
            add_product(response, pulse, beamformed(frequencies, plane, plane.slices, offset + plane.middle_m));
            responses.push_back(std::move(response));
        }
        return responses;
    };
    Correlations all{std::vector<Complex>(offsets.size() / 2 + 1, 0.0), std::vector<double>(frequencies.count, 0.0)};
    all.add(responses_of(scene), in_planes ? 0.5 : 1.0);
    for (int n = 1; in_planes && n <= planes; ++n) {
        const double elevation = reach.elevation_m * n / planes;
        WaveScene plane = moved_out(scene, elevation);
        plane.slices = {slice_at(plane, frequencies, reach, elevation)};
        all.add(responses_of(plane), 1.0);
    }
    const double axial_step = scene.axial_theory / axial_samples;
    std::vector<Complex> axial(static_cast<std::size_t>(axial_widths * axial_samples), 0.0);
    for (std::size_t shift = 0; shift < axial.size(); ++shift) {
        Rotation turn(frequencies, 2.0 * static_cast<double>(shift) * axial_step / scene.assumed_speed);
        for (std::size_t f = 0; f < frequencies.count; ++f) axial[shift] += all.power[f] * turn.next();
    }
    return SpeckleSizePrediction{covariance_integral(all.lateral, step), covariance_integral(axial, axial_step)};
}

}  // namespace echoloom
