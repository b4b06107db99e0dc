#pragma once
/// What is imaged: a medium, bright targets and regions of random scatterers, with the ground truth of both.

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

struct Shape {
    RegionShape kind = RegionShape::box;
    Vec3 center_m = Vec3::Zero();
    Vec3 half_size_m = Vec3::Zero();
    bool contains(double x, double y, double z) const;
};

/// Scales the strength of a region's scatterers inside `shape`; -inf dB removes them.
struct Inclusion {
    std::string name;
    Shape shape;
    double contrast_dB = 0.0;
};

/// Random scatterers of equal strength and random sign inside a shape (Poisson positions up to a fixed count).
struct SpeckleRegion {
    std::string name;
    Shape shape;
    double density_per_mm3 = 0.0;
    double strength_m = 0.0;
    std::uint64_t stream = 0;  ///< its own stream of random numbers
    std::vector<Inclusion> inclusions;
};

/// A row of equal point scatterers (one point, or a wire along elevation sampled finely).
struct FixedTarget {
    Vec3 center_m = Vec3::Zero();
    double strength_m = 0.0;     ///< of the point, or per sample of the wire
    double half_length_m = 0.0;  ///< along elevation; 0 for a point
    std::size_t count = 1;       ///< samples along the wire
};

struct Phantom {
    std::string name;
    Medium medium;
    std::uint64_t seed = 1;
    std::vector<FixedTarget> targets;
    std::vector<SpeckleRegion> regions;
    Truth truth;
    std::string source;  ///< exact TOML text

    /// Number of candidate scatterers before shapes and anechoic inclusions remove some; what a pass over all costs.
    std::size_t candidate_count() const;
    /// The box that holds every scatterer.
    Box bounds() const;
};

/// Calls `take` for every scatterer inside `window` (by half-open intervals least <= p < most), in an order that
/// depends on the phantom alone. Memory is that of the caller: nothing is stored.
void for_each_scatterer(const Phantom& phantom, const Box& window,
                        const std::function<void(std::span<const Scatterer>)>& take);

/// Reads a phantom (see phantoms/*.toml for every key). A density per resolution cell names a probe, which is loaded by
/// name. Throws InputError.
Phantom read_phantom(Settings settings);
Phantom load_phantom(const std::string& path_or_name, std::span<const Override> overrides = {});

}  // namespace echoloom
