#pragma once
/// What the kernels of face_factor.cpp are handed.

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
/// What a second pair of sums is weighted by: nothing, the path's excess xi, or R / R_q - 1.
enum class Moment { none, excess, ratio };

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
    const std::complex<float>* rest;  ///< [bin] of the path constant, or null
    float* out[4];                    ///< [bin][place]
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

}  // namespace echoloom
