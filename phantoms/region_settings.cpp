#include "phantoms/region_settings.h"

#include <array>
#include <cmath>
#include <limits>

#include "phantoms/places.h"
#include "phantoms/resolution_cell.h"
#include "sim/base/shipped.h"
#include "sim/base/text.h"

namespace echoloom {

namespace {

// Streams of random numbers, apart from each other and from those of a probe's faults or a scan's noise under the same
// seed: a layer added or left out moves no scatterer of a [[speckle]].
constexpr std::uint64_t speckle_streams = 0x1'0000'0000ULL;
constexpr std::uint64_t layer_streams = 0x2'0000'0000ULL;

Vec3 read_size_m(Settings& settings) {
    const std::vector<double> size_mm = settings.numbers("size_mm", positive(2.0 * farthest_mm), 3);
    return Vec3(size_mm[0], size_mm[1], size_mm[2]) * mm;
}

double read_extent_m(Settings& settings, std::string_view key) {
    return settings.number(key, positive(2.0 * farthest_mm)) * mm;
}

/// A shape; a cylinder `within` a region is as long as the region where no length is given.
Shape read_shape(Settings& settings, const Shape* within = nullptr) {
    constexpr std::array<std::string_view, 4> kinds = {"box", "cylinder", "sphere", "ellipsoid"};
    const std::string kind = settings.one_of("shape", kinds);
    Shape shape;
    shape.center_m = read_position_m(settings, "center_mm");
    Vec3 size_m;
    if (kind == "cylinder") {
        shape.kind = RegionShape::cylinder;
        const double diameter_m = read_extent_m(settings, "diameter_mm");
        const bool as_long = !settings.has("length_mm") && within != nullptr;
        const double length_m = as_long ? 2.0 * within->half_size_m.y() : read_extent_m(settings, "length_mm");
        size_m = Vec3(diameter_m, length_m, diameter_m);
    } else if (kind == "sphere") {
        shape.kind = RegionShape::sphere;
        size_m = Vec3::Constant(read_extent_m(settings, "diameter_mm"));
    } else {
        shape.kind = kind == "box" ? RegionShape::box : RegionShape::ellipsoid;
        size_m = read_size_m(settings);
    }
    shape.half_size_m = size_m / 2.0;
    return shape;
}

/// A layer is a box, written as what lies between two depths.
Shape read_slab(Settings& settings) {
    const double top_mm = settings.number("top_mm", positive(farthest_mm));
    const double bottom_mm = settings.number("bottom_mm", positive(farthest_mm));
    if (bottom_mm <= top_mm) {
        settings.fail("bottom_mm", "is " + plain(bottom_mm) + ", not below the top at " + plain(top_mm) +
                                       " mm; give a greater depth");
    }
    Vec3 least(0.0, 0.0, top_mm);
    Vec3 most(0.0, 0.0, bottom_mm);
    const auto read_span = [&](std::string_view key, Eigen::Index axis) {
        const std::vector<double> span_mm = settings.numbers(key, between(-farthest_mm, farthest_mm), 2);
        if (span_mm[1] <= span_mm[0]) {
            settings.fail(key, "runs from " + plain(span_mm[0]) + " to " + plain(span_mm[1]) +
                                   " mm; give the lesser value first");
        }
        least[axis] = span_mm[0];
        most[axis] = span_mm[1];
    };
    read_span("lateral_mm", 0);
    read_span("elevation_mm", 1);
    Shape shape;
    shape.center_m = (least + most) / 2.0 * mm;
    shape.half_size_m = (most - least) / 2.0 * mm;
    return shape;
}

/// A probe by shipped name, or by a path that starts from the phantom's own folder.
Probe read_named_probe(Settings& settings) {
    std::string name = settings.text("probe");
    if (name.find('/') != std::string::npos || name.ends_with(".toml")) {
        name = (settings.file().parent_path() / name).string();
        if (!name.starts_with('/')) {
            name.insert(0, "./");
        }
    }
    try {
        name = find_shipped(ShippedKind::probe, name).string();
    } catch (const InputError& error) {
        settings.fail("probe", error.what());
    }
    std::error_code ignored;
    if (!std::filesystem::exists(name, ignored)) {
        settings.fail("probe", "there is no file " + name + "; give a path from this file's folder, or a shipped name");
    }
    return load_probe(name);
}

/// Sets the density, which is given per mm^3 or per resolution cell of a probe, and refuses what nobody can have meant.
void read_density(Settings& settings, const Medium& medium, SpeckleRegion& region) {
    const bool by_cell = settings.has("density_per_cell");
    const std::string_view key = by_cell ? "density_per_cell" : "density_per_mm3";
    if (by_cell && settings.has("density_per_mm3")) {
        settings.fail("density_per_cell", "goes against density_per_mm3; give one of the two");
    }
    if (by_cell) {
        const double per_cell = settings.number(key, positive(1e6));
        const Probe probe = read_named_probe(settings);
        const double depth_m = settings.number("cell_depth_mm", positive(farthest_mm)) * mm;
        const double f_number = settings.number("cell_f_number", between(0.1, 100.0));
        region.density_per_mm3 =
            per_cell / resolution_cell(probe, medium.sound_speed_m_s, depth_m, f_number).volume_mm3();
    } else {
        region.density_per_mm3 = settings.number(key, positive(1e6));
    }
    const double candidates = region.density_per_mm3 * 8.0 * region.shape.half_size_m.prod() * 1e9;
    if (candidates > max_candidates) {
        settings.fail(key, "fills this region with " + plain(candidates) +
                               " scatterers; lower it, or shrink the region, to at most " + plain(max_candidates));
    }
    if (region.candidate_count() == 0) {
        settings.fail(key, "puts no scatterer into this region; raise it, or enlarge the region");
    }
}

double read_contrast_dB(Settings& settings) {
    constexpr double silent_dB = -std::numeric_limits<double>::infinity();
    const bool anechoic = settings.flag_or("anechoic", false);
    if (!settings.has("contrast_dB")) {
        if (!anechoic) {
            settings.fail("contrast_dB", "missing; give a number in dB, or anechoic = true");
        }
        return silent_dB;
    }
    if (anechoic) {
        settings.fail("contrast_dB", "goes against anechoic = true; give one of the two");
    }
    return settings.number("contrast_dB", {silent_dB, 100.0, false, true});
}

Inclusion read_inclusion(Settings settings, const SpeckleRegion& region, const std::string& fallback_name,
                         Names& names) {
    Inclusion inclusion;
    inclusion.name = names.read(settings, fallback_name);
    inclusion.shape = read_shape(settings, &region.shape);
    inclusion.contrast_dB = read_contrast_dB(settings);
    if (!region.shape.holds(inclusion.shape)) {
        settings.fail("center_mm", "the inclusion '" + inclusion.name + "' sticks out of its region '" + region.name +
                                       "'; move or shrink it");
    }
    return inclusion;
}

/// What a [[speckle]] and a [[layer]] have in common, once the shape is known.
void add_region(Settings& settings, SpeckleRegion region, Names& names, Phantom& phantom) {
    region.strength_m = read_strength_m(settings, 0.0);
    read_density(settings, phantom.medium, region);
    for (const Settings& entry : settings.tables("inclusion")) {
        const std::string fallback = region.name + " inclusion " + std::to_string(region.inclusions.size() + 1);
        region.inclusions.push_back(read_inclusion(entry, region, fallback, names));
    }
    const auto add_truth = [&](const std::string& name, const Shape& shape, double contrast_dB, bool inside) {
        phantom.truth.regions.push_back({name, shape.kind, shape.center_m, shape.half_size_m, contrast_dB, inside});
    };
    add_truth(region.name, region.shape, 0.0, false);
    for (const Inclusion& inclusion : region.inclusions) {
        add_truth(inclusion.name, inclusion.shape, inclusion.contrast_dB, true);
    }
    phantom.regions.push_back(std::move(region));
}

}  // namespace

void read_regions(Settings& settings, Names& names, Phantom& phantom) {
    std::uint64_t number = 0;
    for (Settings& entry : settings.tables("speckle")) {
        ++number;
        SpeckleRegion region;
        region.name = names.read(entry, "speckle " + std::to_string(number));
        region.stream = speckle_streams + number;
        region.shape = read_shape(entry);
        refuse_above_face(entry, "center_mm", region.shape.box().least.z());
        add_region(entry, std::move(region), names, phantom);
    }
    number = 0;
    for (Settings& entry : settings.tables("layer")) {
        ++number;
        SpeckleRegion region;
        region.name = names.read(entry, "layer " + std::to_string(number));
        region.stream = layer_streams + number;
        region.shape = read_slab(entry);
        add_region(entry, std::move(region), names, phantom);
    }
}

}  // namespace echoloom
