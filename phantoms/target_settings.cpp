#include "phantoms/target_settings.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

#include "phantoms/places.h"
#include "sim/base/text.h"

namespace echoloom {

namespace {

constexpr long long max_in_line = 1000;
constexpr double max_in_group = 10'000.0;
constexpr double max_pieces = 100'000.0;  ///< of one wire

/// What wires of one entry have in common.
struct WireKind {
    double length_m = 0.0;
    std::size_t pieces = 1;
    double strength_per_mm_m = 0.0;  ///< scattering length of 1 mm of wire
};

WireKind read_wire_kind(Settings& settings) {
    WireKind kind;
    const double length_mm = settings.number_or("length_mm", 20.0, positive(farthest_mm));
    const double spacing_mm = settings.number_or("point_spacing_mm", 0.1, between(0.001, farthest_mm));
    const double pieces = std::ceil(length_mm / spacing_mm * (1.0 - 1e-12));
    if (pieces > max_pieces) {
        settings.fail("point_spacing_mm", "cuts a wire into " + plain(pieces) + " pieces; give at least " +
                                              plain(length_mm / max_pieces) + " mm");
    }
    kind.length_m = length_mm * mm;
    kind.pieces = static_cast<std::size_t>(pieces);
    kind.strength_per_mm_m = read_strength_m(settings, 0.0);
    return kind;
}

void add_wire(const Settings& settings, std::string_view key, const WireKind& kind, double x_mm, double z_mm,
              Phantom& phantom) {
    refuse_above_face(settings, key, z_mm * mm);
    if (std::abs(x_mm) > farthest_mm || z_mm > farthest_mm) {
        settings.fail(key, "a wire would lie at x = " + plain(x_mm) + " mm, z = " + plain(z_mm) +
                               " mm; keep all within " + plain(farthest_mm) + " mm");
    }
    FixedTarget wire;
    wire.center_m = Vec3(x_mm, 0.0, z_mm) * mm;
    wire.half_length_m = kind.length_m / 2.0;
    wire.count = kind.pieces;
    wire.strength_m = kind.strength_per_mm_m * (kind.length_m / mm) / static_cast<double>(kind.pieces);
    phantom.targets.push_back(wire);
    phantom.truth.points.push_back({wire.center_m, kind.strength_per_mm_m, kind.length_m});
}

void read_point(Settings settings, Phantom& phantom) {
    FixedTarget point;
    point.center_m = read_position_m(settings, "position_mm");
    refuse_above_face(settings, "position_mm", point.center_m.z());
    point.strength_m = read_strength_m(settings, 0.0);
    phantom.targets.push_back(point);
    phantom.truth.points.push_back({point.center_m, point.strength_m, 0.0});
}

void read_wire(Settings settings, Phantom& phantom) {
    const std::vector<double> place = settings.numbers("position_mm", between(-farthest_mm, farthest_mm), 2);
    add_wire(settings, "position_mm", read_wire_kind(settings), place[0], place[1], phantom);
}

/// Wires [first, first + step, ...] lateral and in depth, row after row.
struct Lattice {
    std::array<double, 2> first_mm{};
    std::array<double, 2> spacing_mm{};
    std::array<std::size_t, 2> count{1, 1};
};

void add_lattice(const Settings& settings, const WireKind& kind, const Lattice& lattice, Phantom& phantom) {
    for (std::size_t row = 0; row < lattice.count[1]; ++row) {
        for (std::size_t column = 0; column < lattice.count[0]; ++column) {
            const double x_mm = lattice.first_mm[0] + static_cast<double>(column) * lattice.spacing_mm[0];
            const double z_mm = lattice.first_mm[1] + static_cast<double>(row) * lattice.spacing_mm[1];
            add_wire(settings, "start_mm", kind, x_mm, z_mm, phantom);
        }
    }
}

Lattice read_line(Settings& settings, std::size_t axis) {
    Lattice lattice;
    lattice.spacing_mm[axis] = settings.number("spacing_mm", positive(farthest_mm));
    lattice.count[axis] = static_cast<std::size_t>(settings.integer("count", 1, max_in_line));
    return lattice;
}

Lattice read_grid(Settings& settings) {
    Lattice lattice;
    const std::vector<double> spacing_mm = settings.numbers("spacing_mm", positive(farthest_mm), 2);
    const std::vector<double> count = settings.numbers("count", between(1.0, static_cast<double>(max_in_line)), 2);
    for (std::size_t axis = 0; axis < 2; ++axis) {
        if (count[axis] != std::floor(count[axis])) {
            settings.fail("count", plain(count[axis]) + " is no count; give two whole numbers, lateral and in depth");
        }
        lattice.spacing_mm[axis] = spacing_mm[axis];
        lattice.count[axis] = static_cast<std::size_t>(count[axis]);
    }
    if (count[0] * count[1] > max_in_group) {
        settings.fail("count", "asks for " + plain(count[0] * count[1]) + " wires; give at most " +
                                   plain(max_in_group) + " in all");
    }
    return lattice;
}

void add_pairs(Settings& settings, const WireKind& kind, const std::vector<double>& start_mm, std::size_t axis,
               Phantom& phantom) {
    const std::vector<double> spacings_mm = settings.numbers("spacings_mm", positive(farthest_mm));
    const std::vector<double> step_mm = settings.numbers("step_mm", between(-farthest_mm, farthest_mm), 2);
    if (spacings_mm.empty()) {
        settings.fail("spacings_mm", "is an empty list; give the distance within each pair");
    }
    for (std::size_t pair = 0; pair < spacings_mm.size(); ++pair) {
        std::array<double, 2> place = {start_mm[0] + static_cast<double>(pair) * step_mm[0],
                                       start_mm[1] + static_cast<double>(pair) * step_mm[1]};
        add_wire(settings, "step_mm", kind, place[0], place[1], phantom);
        place[axis] += spacings_mm[pair];
        add_wire(settings, "step_mm", kind, place[0], place[1], phantom);
    }
}

/// Wires at one range from a point, at equal angles about straight axial.
void add_arc(Settings& settings, Phantom& phantom) {
    const std::vector<double> apex_mm =
        settings.numbers_or("apex_mm", {0.0, 0.0}, between(-farthest_mm, farthest_mm), 2);
    const double range_mm = settings.number("range_mm", positive(farthest_mm));
    const auto count = settings.integer("count", 1, max_in_line);
    const double max_rad =
        count == 1 ? 0.0 : settings.number("max_angle_deg", positive(90.0)) * std::numbers::pi / 180.0;
    const WireKind kind = read_wire_kind(settings);
    for (long long i = 0; i < count; ++i) {
        const double share = count == 1 ? 0.0 : 2.0 * static_cast<double>(i) / static_cast<double>(count - 1) - 1.0;
        const double angle = share * max_rad;
        add_wire(settings, settings.has("apex_mm") ? "apex_mm" : "range_mm", kind,
                 apex_mm[0] + range_mm * std::sin(angle), apex_mm[1] + range_mm * std::cos(angle), phantom);
    }
}

void read_wire_group(Settings settings, Phantom& phantom) {
    constexpr std::array<std::string_view, 6> patterns = {"column", "row",         "grid",
                                                          "arc",    "axial_pairs", "lateral_pairs"};
    constexpr std::size_t lateral = 0;
    constexpr std::size_t axial = 1;
    const std::string pattern = settings.one_of("pattern", patterns);
    if (pattern == "arc") {
        add_arc(settings, phantom);
        return;
    }
    const std::vector<double> start_mm = settings.numbers("start_mm", between(-farthest_mm, farthest_mm), 2);
    refuse_above_face(settings, "start_mm", start_mm[1] * mm);
    const WireKind kind = read_wire_kind(settings);
    if (pattern.ends_with("pairs")) {
        add_pairs(settings, kind, start_mm, pattern == "axial_pairs" ? axial : lateral, phantom);
        return;
    }
    Lattice lattice = pattern == "grid" ? read_grid(settings) : read_line(settings, pattern == "row" ? lateral : axial);
    lattice.first_mm = {start_mm[0], start_mm[1]};
    add_lattice(settings, kind, lattice, phantom);
}

}  // namespace

void read_targets(Settings& settings, Phantom& phantom) {
    for (const Settings& entry : settings.tables("point")) {
        read_point(entry, phantom);
    }
    for (const Settings& entry : settings.tables("wire")) {
        read_wire(entry, phantom);
    }
    for (const Settings& entry : settings.tables("wire_group")) {
        read_wire_group(entry, phantom);
    }
}

}  // namespace echoloom
