#pragma once
/// Responses of virtual elements, cheaply: the costly integral over a face varies slowly along a row once the travel to
/// its middle is taken out, so it is evaluated at few places and interpolated.

#include <span>
#include <vector>

#include "sim/base/aligned.h"
#include "sim/engine/response.h"

namespace echoloom {

/// How the factor H = (integral over the face) / (its middle path's own term) is computed for a cell.
struct FaceFactorPlan {
    ElementArrays places;  ///< faces at which it is evaluated; none: at the virtual elements themselves
    std::size_t used = 0;  ///< places that are interpolated from; the rest is padding
    int lateral_points = 1;
    int elevation_points = 1;
    /// The integral is taken as lateral times elevation with mixed terms of up to this order (1 or 2); 0: the full
    /// rule.
    int mixed_order = 0;
    /// The factor is evaluated at every so many bins and interpolated between them, for it turns slowly with frequency.
    int bin_stride = 1;
    double coarse_turn = 1.0;  ///< greatest phase from one of those to the next
};

/// Rows of nodes that are carried to the elements together.
inline constexpr std::size_t node_group = 8;

/// Virtual elements for a run of bins of a cell.
struct NodeGroup {
    std::size_t nodes = 0;               ///< in use, a multiple of node_group
    ElementArrays elements;              ///< faces at the nodes, padded
    WindowPlan plan;                     ///< the group's bins, with references at the nodes
    AlignedVector<float> from_places;    ///< [place][node], padded: interpolates the face factor
    AlignedVector<float> interpolation;  ///< [group of elements][node][element]: carries sums to the elements
};

/// Work space of one thread.
struct FaceFactorScratch {
    AlignedVector<float> path, lateral, normal;  ///< [place] of one scatterer, in metres
    AlignedVector<float> elevation_sum[6];       ///< [bin][place]: PathSum::out
    AlignedVector<float> lateral_sum[6];
    AlignedVector<float> coarse_real, coarse_imaginary;  ///< the factor at some frequencies, [frequency][place]
    AlignedVector<float> real, imaginary;                ///< the factor, [bin][place]
};

/// Frequencies at which the factor is evaluated for `bins` bins, counted from `coarse_before` strides before the first.
inline constexpr int coarse_taps = 8;
inline constexpr int coarse_before = 3;
int coarse_count(int bins, int stride);
/// The largest phase from one of those frequencies to the next at which the factor between them is wrong by `error`.
double coarse_turn(double error);

/// G at every group's nodes for some scatterers of a cell; `out` has one grid for each group. `cell` is the plan of all
/// bins.
///
/// The middle path of a scatterer runs to the height whose square distance lies in the middle of the face's, so that
/// what is left turns least. With R that path and D what a point of the face adds to its square, sqrt(R^2 + D) - R = D
/// / (sqrt(R^2 + D) + R) is right in float. Lateral and elevation parts of a path add up but for xi (R / R_q - 1), with
/// xi the lateral part and R_q the path at elevation point q, less xi^2 / R (R / R_q - 1): the exponential of this
/// mixed term is kept to its first or second order.
void compute_node_responses(const EngineContext& context, const WindowPlan& cell, const FaceFactorPlan& factor,
                            std::span<const NodeGroup> groups, std::span<const Scatterer> scatterers,
                            FaceFactorScratch& scratch, std::span<ResponseGrid> out);

/// Square of the height, relative to the scatterer's own plane, to which the middle path of a scatterer runs that lies
/// `offset_m` along elevation from the face's middle.
double middle_square(double offset_m, double half_height_m);

}  // namespace echoloom
