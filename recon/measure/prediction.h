#pragma once
/// What a recipe should make of one point of a recording, computed in double precision with exact distances: an image
/// of the point from a few lines of code that share nothing with the engine or the beamformer.
///
/// At frequency f the beamformed value at pixel q of a target at s is
///     S(f) = E(f) sum_events exp(+j 2 pi f t_tx(q)) T(f, s) R(f, s, q)
///     T(f, s)    = sum_e w_e g_e(f, s) exp(-j 2 pi f tau_e)
///     R(f, s, q) = sum_r v_r(q) g_r(f, s) exp(+j 2 pi f t_r(q))
///     g_e(f, s)  = sinc(f w u / c) B(theta) P(f, R_e) exp(-a(f) R_e) exp(-j 2 pi f R_e / c) / R_e
/// and for a ring its Rayleigh integral (ring_wave.h) in place of g_e; with E the probe's echo spectrum behind the
/// recipe's high-pass, P the elevation factor (height, lens; elevation.h),
/// and t_tx and t_r the times the recipe assumes. The analytic signal is the sum of S over positive frequencies
/// (broadband), or S at the centre frequency alone (continuous wave). Receive delays are those of the target's own
/// depth; dispersion is left out.

#include "recon/beamform/recipe.h"
#include "recon/measure/profile.h"
#include "sim/recording/recording.h"

namespace echoloom {

struct PredictionTerms {
    bool broadband = true;    ///< false: continuous wave at the centre frequency
    bool spreading = true;    ///< 1/R
    bool directivity = true;  ///< element width and baffle
    bool elevation = true;    ///< element height and lens
    bool attenuation = true;
    double wire_length_m = 0.0;  ///< of a wire along elevation; 0 for a point
};

struct PointPrediction {
    double lateral_reach_m = 0.0;   ///< to either side: as far as the narrower of the two beams reaches
    double search_offset_m = 0.0;   ///< lateral, where to search for the point: not 0 where a head rotates
    double lateral_offset_m = 0.0;  ///< where it appears, the middle of its -6 dB width: the elements' directivity
                                    ///< pulls a steered beam towards broadside
    Profile lateral;                ///< at the depth of the peak, relative to the point
    Profile axial;                  ///< through the peak; empty for a continuous wave
    LevelWidth lateral_6dB, lateral_20dB, axial_6dB, axial_20dB;
};

/// For line scans the beam of the line nearest the point is held still and the point moved laterally, as neighbouring
/// lines would see it: along an arc where they fan. A rotating head transmits at one angle and receives at that of the
/// arrival. For plane and diverging waves and full matrices the pixel moves. Throws InputError where the
/// recording has no event that could show the point.
PointPrediction predict_point(const RecordingInfo& info, const Recipe& recipe, const Vec3& point_m,
                              const PredictionTerms& terms = {});

}  // namespace echoloom
