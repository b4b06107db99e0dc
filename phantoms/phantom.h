#pragma once
/// What is imaged: a medium, bright targets, regions and sheets of random scatterers, with the ground truth of all.

#include <cstdint>
#include <functional>
#include <span>
#include <string>
#include <variant>
#include <vector>

#include "sim/array/probe.h"
#include "sim/base/medium.h"
#include "sim/base/settings.h"
#include "sim/base/truth.h"

namespace echoloom {

/// A point scatterer: position in metres and scattering strength (a length, may be negative).
struct Scatterer {
    double x_m = 0.0;
    double y_m = 0.0;
    double z_m = 0.0;
    double strength_m = 0.0;
};

/// Axis-aligned box [least, most] in metres.
struct Box {
    Vec3 least = Vec3::Zero();
    Vec3 most = Vec3::Zero();
};

/// A convex solid with its axes along x, y and z; half sizes of round ones are radii. Its surface belongs to it.
struct Shape {
    RegionShape kind = RegionShape::box;
    Vec3 center_m = Vec3::Zero();
    Vec3 half_size_m = Vec3::Zero();
    bool contains(double x, double y, double z) const;
    /// Whether all of `other` lies in this one, by points of its surface (2 degrees apart or less where it is round)
    /// and to a billionth of the size.
    bool holds(const Shape& other) const;
    Box box() const { return {center_m - half_size_m, center_m + half_size_m}; }
};

/// Scales the strength of a region's scatterers inside `shape`; -inf dB removes them. Of inclusions that overlap, the
/// last one counts.
struct Inclusion {
    std::string name;
    Shape shape;
    double contrast_dB = 0.0;
};

/// Random scatterers of equal strength and random sign inside a shape. Candidates fill the shape's box uniformly, and
/// those outside the shape are dropped; candidate i of a region depends on the phantom's seed, the region's stream and
/// i alone.
struct SpeckleRegion {
    std::string name;
    Shape shape;
    double density_per_mm3 = 0.0;
    double strength_m = 0.0;
    std::uint64_t stream = 0;  ///< its own stream of random numbers
    std::vector<Inclusion> inclusions;

    /// Density times the volume of the shape's box, rounded.
    std::size_t candidate_count() const;
};

/// Random scatterers of equal strength and random sign on a flat rectangle that is turned about the lateral axis, so
/// that it lies deeper the further along elevation: z = center z + (y - center y) tan(tilt). Candidate i of a sheet
/// depends on the phantom's seed, the sheet's stream and i alone.
struct Sheet {
    std::string name;
    Vec3 center_m = Vec3::Zero();
    double half_width_m = 0.0;   ///< lateral
    double half_length_m = 0.0;  ///< along the slope
    double tilt_rad = 0.0;
    double density_per_mm2 = 0.0;
    double strength_m = 0.0;
    std::uint64_t stream = 0;  ///< its own stream of random numbers

    /// Unit vector up the slope, towards +y; rounded to 40 bits, so that every machine has the same.
    Vec3 slope() const;
    Box box() const;
    /// Density times the area, rounded; none is dropped.
    std::size_t candidate_count() const;
};

/// A row of equal point scatterers: one point, or a wire along elevation cut into `count` equal pieces, with a point in
/// the middle of each.
struct FixedTarget {
    Vec3 center_m = Vec3::Zero();
    double strength_m = 0.0;     ///< of the point, or of one piece of the wire
    double half_length_m = 0.0;  ///< along elevation; 0 for a point
    std::size_t count = 1;       ///< pieces of the wire
};

struct Phantom {
    std::string name;
    Medium medium;
    std::uint64_t seed = 1;
    std::vector<FixedTarget> targets;
    std::vector<SpeckleRegion> regions;
    std::vector<Sheet> sheets;
    Truth truth;         ///< a wire counts as the point where it crosses y = 0, as strong as 1 mm of it
    std::string source;  ///< exact TOML text

    /// Number of candidate scatterers before shapes and anechoic inclusions remove some; what a pass over all costs.
    std::size_t candidate_count() const;
    /// The box that holds every scatterer, also when it serves as a half-open window. All zero where there is none.
    Box bounds() const;
};

/// Calls `take` for every scatterer inside `window` (by half-open intervals least <= p < most), in an order that
/// depends on the phantom alone: a window leaves scatterers out and moves none. Spans are never empty and hold at most
/// 4096; each is gone when `take` returns.
void for_each_scatterer(const Phantom& phantom, const Box& window,
                        const std::function<void(std::span<const Scatterer>)>& take);

/// Reads a phantom (see phantoms/*.toml for every key). A density per resolution cell names a probe, which is loaded by
/// name. Throws InputError.
Phantom read_phantom(Settings settings);
Phantom load_phantom(const std::string& path_or_name, std::span<const Override> overrides = {});

}  // namespace echoloom
