#pragma once
/// The sums behind a prediction: what a recipe makes of one point at any pixel, frequency by frequency. See
/// prediction.h for the formula.

#include <optional>
#include <span>
#include <vector>

#include "recon/measure/elevation.h"
#include "recon/measure/point_view.h"
#include "recon/measure/prediction.h"
#include "recon/measure/ring_wave.h"
#include "recon/measure/wave_sum.h"

namespace echoloom {

/// A part of the target at one elevation, with the factors of the rows of elements.
struct TargetSlice {
    double elevation_m = 0.0;
    double weight = 1.0;
    std::vector<ElevationTable> rows = {};  ///< [row of elements]; empty where the terms exclude all of it
    /// T(f, s) of each event where the point rests and the pixel moves (grids); empty for lines.
    std::vector<Spectrum> transmit = {};
};

/// One recording, recipe and point, ready to be summed at any pixel.
struct WaveScene {
    const RecordingInfo& info;
    const Recipe& recipe;
    const PredictionTerms& terms;
    PointView view;
    double speed;           ///< of the medium
    double assumed_speed;   ///< of the recipe
    double shown_depth;     ///< where the point appears along the beam
    double lateral_theory;  ///< theoretical -6 dB widths, in metres
    double axial_theory;
    std::vector<double> rest_weights = {};  ///< of the events where the pixel rests; empty where it moves
    double middle_m = 0.0;                  ///< lateral position where the point appears: not 0 for a rotating head
    std::vector<TargetSlice> slices = {};   ///< the target: one, or several along a wire in front of rings
    std::optional<RingTable> rings = {};    ///< where there are any; without, each response is computed afresh
    /// A wire seen by rows: [row out * rows + row back] how much more than the product of their own factors; else
    /// empty.
    std::vector<Spectrum> coupling = {};
};

/// How far the patch of pixels around the point reaches.
struct PatchReach {
    double lateral_m = 0.0;
    double elevation_m = 0.0;  ///< of the slices
};

/// Everything but slices, rings and coupling, which need to know how far the patch reaches.
WaveScene make_scene(const RecordingInfo& info, const Recipe& recipe, const Vec3& point_m,
                     const PredictionTerms& terms);

/// How far the patch must reach to either side: bounded by the narrower of the two beams.
double lateral_reach_m(const WaveScene& scene);

/// The same for a target that is moved along elevation.
double elevation_reach_m(const WaveScene& scene);

/// A point as the array sees it when it transmits, and when the echo arrives: a rotating head turns in between.
Vec3 point_on_transmit(const WaveScene& scene, const TransmitEvent& event, const Vec3& point);
Vec3 point_on_receive(const WaveScene& scene, const TransmitEvent& event, const Vec3& point);

/// Largest two-way spread of delay errors among the elements of any event over the patch: one period of the sum over
/// frequencies has to hold it.
double delay_spread_s(const WaveScene& scene, double reach_m);

/// Enough of them that one period holds the echo, its delay errors and some silence.
Frequencies frequencies_for(const WaveScene& scene, const PatchReach& reach);

/// E(f) behind the recipe's high-pass; one for a continuous wave.
Spectrum echo_spectrum(const Frequencies& frequencies, const WaveScene& scene);

/// What rings transmit and receive, tabulated.
void prepare_rings(WaveScene& scene, const Frequencies& frequencies, const PatchReach& reach);
/// Fills in all that is tabulated before the sums: rings, and the slices of the target.
void prepare_target(WaveScene& scene, const Frequencies& frequencies, const PatchReach& reach);
/// For grids: sums what each event transmits to the slices, once for all pixels.
void rest_target(WaveScene& scene, const Frequencies& frequencies);
/// One slice, for a point at an elevation.
TargetSlice slice_at(const WaveScene& scene, const Frequencies& frequencies, const PatchReach& reach,
                     double elevation_m);

/// The scene with the point moved out of the plane: for a pulse, which resolves distance, on an arc about the line's
/// origin.
WaveScene moved_out(const WaveScene& scene, double elevation_m);

/// Sum over events without E, with the pixel at a lateral offset (m) from the point.
Spectrum beamformed(const Frequencies& frequencies, const WaveScene& scene, std::span<const TargetSlice> slices,
                    double offset_m);

}  // namespace echoloom
