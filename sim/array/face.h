#pragma once
/// The faces of arrays: where each kind puts its elements, and places along a face.

#include <span>
#include <vector>

#include "sim/array/probe.h"

namespace echoloom {

/// Equal columns along x centred on the origin, looking along z, each cut into `rows` along elevation;
/// element = column * rows + row.
std::vector<Element> flat_face(std::size_t columns, double pitch_m, double width_m, int rows, double row_pitch_m,
                               double height_m);

/// Equal elements on an arc about (0, 0, -radius), `pitch_m` apart along it, each looking outwards.
std::vector<Element> curved_face(std::size_t count, double radius_m, double pitch_m, double width_m, double height_m);

/// Rings about the z axis; `edges_m` holds the inner and outer radius of one after the other.
std::vector<Element> ring_face(std::span<const double> edges_m);

/// Inner and outer radii of `count` rings that share the area of a disc equally, less a gap between neighbours: ring n
/// would end at radius sqrt((n + 1) / count). Half of the gap is taken from each side.
std::vector<double> equal_area_edges(int count, double radius_m, double kerf_m);

/// Radius at which a ring's area is halved, from which its echo seems to come: sqrt((inner^2 + outer^2) / 2).
double ring_radius_m(const Element& ring);

/// How far along the face a point lies: x over a flat array, arc length below a curved one.
double face_lateral_m(const Probe& probe, const Vec3& point_m);

/// A point of the face and the direction straight out of it.
struct FacePlace {
    Vec3 origin_m = Vec3::Zero();
    Vec3 normal = Vec3::UnitZ();
};
/// The inverse of face_lateral_m on the face itself.
FacePlace face_place(const Probe& probe, double lateral_m);

/// Columns of elements along the face: those of one row.
int column_count(const Probe& probe);

/// Half the length of the face, to the outer edges of its outermost columns' pitch cells.
double half_face_m(const Probe& probe);

}  // namespace echoloom
