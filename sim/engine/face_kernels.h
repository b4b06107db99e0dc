#pragma once
/// The inner loops of face factors, and what they are handed.

#include <complex>
#include <cstddef>

#include "sim/engine/face_factor.h"

namespace echoloom {

/// A point of the face: what it adds to the square of the path is `square` - 2 X `lateral`.
struct FacePoint {
    float square;
    float lateral;
    float advance_s;
    float weight;
};

/// Which factor of a soft baffle a sum carries: none, Z / R, or R of the middle path over R.
enum class Obliquity { none, whole, relative };
/// What further pairs of sums are weighted by, and by its square: the path's excess xi, or R / R_q - 1.
enum class Moment { excess, ratio };

/// Places, points and bins of one sum over points of a face.
struct PathSum {
    const float* path;
    const float* lateral;
    const float* normal;
    std::size_t places;
    const FacePoint* points;
    std::size_t count;
    double first_Hz;
    double step_Hz;
    std::size_t bins;
    double slowness;
    double attenuation;  ///< Np/m/Hz
    Obliquity obliquity;
    Moment moment;
    int order;                        ///< of the highest power of the moment, 0 to 2
    const std::complex<float>* rest;  ///< [bin] of the path constant, or null
    float* out[6];                    ///< [bin][place], real and imaginary parts of each power
};

/// From every `stride`-th bin to all, by `taps` neighbours.
struct BinInterpolation {
    const float* coarse;
    float* fine;
    std::size_t places;
    std::size_t bins;
    std::size_t stride;
    const float* weights;  ///< [bin modulo stride][tap]
};

/// A group's nodes for one scatterer.
struct NodeRun {
    const EngineContext* context;
    const NodeGroup* group;
    const Scatterer* scatterer;
    double middle_square;
    const float* factor_real;  ///< [bin][stride], from the group's first bin
    const float* factor_imaginary;
    std::size_t stride;
    std::size_t used;  ///< places interpolated from; 0: the factor is given at the nodes
    const std::complex<float>* rest;
    float* real;  ///< [bin][scatterer][node] of this scatterer
    float* imaginary;
    std::size_t bin_step;
};

/// Sums the powers of a path's moment over points of a face, at every place and bin.
void sum_over_face(const PathSum& sum);
/// The factor out of its lateral and elevation sums: H = C0 E0 - j k (C1 - C2 / R) E1 - k^2 / 2 C2 E2; C2 and E2 are 0
/// at first order. [bin][place]
void combine_sums(const PathSum& across, const PathSum& up, float* real, float* imaginary);
void interpolate_bins(const BinInterpolation& run);
/// Path, lateral and normal offsets of one scatterer from faces in a row, [place], found in double.
void find_offsets(const ElementArrays& faces, const Scatterer& scatterer, double middle_square, float* path,
                  float* lateral, float* normal);
/// The factor times the middle path's own term, at every node and bin of a group.
void fill_responses(const NodeRun& run);

}  // namespace echoloom
