#include "sim/array/probe.h"

#include <array>
#include <cmath>
#include <numbers>

#include "sim/array/face.h"
#include "sim/array/impulse_response.h"
#include "sim/base/random.h"
#include "sim/base/shipped.h"
#include "sim/base/text.h"

namespace echoloom {

namespace {

constexpr double mm = 1e-3;
constexpr long long max_elements = 1024;
constexpr int max_rings = 32;

/// Width and pitch of the elements along the face; refused where they overlap.
struct Columns {
    std::size_t count = 0;
    double pitch_m = 0.0;
    double width_m = 0.0;
};

Columns read_columns(Settings& settings) {
    const auto count = static_cast<std::size_t>(settings.integer("elements", 1, max_elements));
    const double pitch_mm = settings.number("pitch_mm", positive(20.0));
    const double width_mm = settings.number("width_mm", positive(20.0));
    if (width_mm > pitch_mm) {
        settings.fail("width_mm", "the elements overlap: " + plain(width_mm) + " mm wide, " + plain(pitch_mm) +
                                      " mm apart; give at most the pitch");
    }
    return {count, pitch_mm * mm, width_mm * mm};
}

void read_lens(Settings& settings, Probe& probe) {
    if (const auto focus_mm = settings.number_if("elevation_focus_mm", positive(1000.0))) {
        probe.elevation_focus_m = *focus_mm * mm;
    }
}

void read_flat(Settings& settings, Probe& probe) {
    const Columns columns = read_columns(settings);
    const double height_m = settings.number("height_mm", positive(100.0)) * mm;
    probe.pitch_m = columns.pitch_m;
    probe.elements = flat_face(columns.count, columns.pitch_m, columns.width_m, 1, 0.0, height_m);
    read_lens(settings, probe);
}

void read_curved(Settings& settings, Probe& probe) {
    const Columns columns = read_columns(settings);
    const double height_m = settings.number("height_mm", positive(100.0)) * mm;
    probe.pitch_m = columns.pitch_m;
    probe.radius_m = settings.number("radius_mm", positive(1000.0)) * mm;
    const double span_rad = static_cast<double>(columns.count) * columns.pitch_m / probe.radius_m;
    if (span_rad > std::numbers::pi) {
        settings.fail("radius_mm", "bends the array by " + plain(std::round(span_rad * 180.0 / std::numbers::pi)) +
                                       " degrees; give a radius of at least " +
                                       plain(std::ceil(span_rad / std::numbers::pi * probe.radius_m / mm * 10) / 10) +
                                       " mm, which is half a turn");
    }
    probe.elements = curved_face(columns.count, probe.radius_m, columns.pitch_m, columns.width_m, height_m);
    read_lens(settings, probe);
}

/// Columns cut into rows along elevation, which focus there by their own delays: there is no lens.
void read_rows(Settings& settings, Probe& probe) {
    const Columns columns = read_columns(settings);
    probe.rows = static_cast<int>(settings.integer("rows", 2, 16));
    const double row_pitch_mm = settings.number("row_pitch_mm", positive(100.0));
    const double height_mm = settings.number("height_mm", positive(100.0));
    if (height_mm > row_pitch_mm) {
        settings.fail("height_mm", "the rows overlap: " + plain(height_mm) + " mm high, " + plain(row_pitch_mm) +
                                       " mm apart; give at most row_pitch_mm");
    }
    if (columns.count * static_cast<std::size_t>(probe.rows) > max_elements) {
        settings.fail("rows", "makes " + std::to_string(columns.count * static_cast<std::size_t>(probe.rows)) +
                                  " elements in all; give at most " + std::to_string(max_elements));
    }
    if (settings.has("elevation_focus_mm")) {
        settings.fail("elevation_focus_mm", "rows focus along elevation by their own delays; remove this key");
    }
    probe.pitch_m = columns.pitch_m;
    probe.elements =
        flat_face(columns.count, columns.pitch_m, columns.width_m, probe.rows, row_pitch_mm * mm, height_mm * mm);
}

std::vector<double> read_ring_edges(Settings& settings) {
    if (settings.has("ring_edges_mm") == settings.has("rings")) {
        settings.fail("rings", settings.has("rings") ? "given beside ring_edges_mm; keep one of the two"
                                                     : "missing; give rings (of equal area) or ring_edges_mm");
    }
    if (settings.has("rings")) {
        const auto count = static_cast<int>(settings.integer("rings", 1, max_rings));
        const double radius_mm = settings.number("radius_mm", positive(100.0));
        const double kerf_mm = settings.number_or("kerf_mm", 0.0, between(0.0, 10.0));
        const double thinnest_mm = radius_mm * (1.0 - std::sqrt(1.0 - 1.0 / count));
        if (count > 1 && kerf_mm >= thinnest_mm) {
            settings.fail("kerf_mm", "is " + plain(kerf_mm) + ", and the outermost ring is only " +
                                         plain(std::floor(thinnest_mm * 1e3) / 1e3) + " mm wide; give less");
        }
        return equal_area_edges(count, radius_mm * mm, kerf_mm * mm);
    }
    std::vector<double> edges = settings.numbers("ring_edges_mm", between(0.0, 100.0));
    if (edges.size() < 2 || edges.size() % 2 != 0 || edges.size() > 2 * max_rings) {
        settings.fail("ring_edges_mm", "holds " + counted(edges.size(), "number") +
                                           "; give the inner and outer radius of each ring, for 1 to " +
                                           std::to_string(max_rings) + " rings");
    }
    for (std::size_t i = 0; i < edges.size(); ++i) {
        const bool outer = i % 2 == 1;
        if (i > 0 && (outer ? edges[i] * mm <= edges[i - 1] : edges[i] * mm < edges[i - 1])) {
            settings.fail("ring_edges_mm", "entry " + std::to_string(i) + " is " + plain(edges[i]) +
                                               "; give radii that rise from ring to ring");
        }
        edges[i] *= mm;
    }
    return edges;
}

void read_annular(Settings& settings, Probe& probe) {
    if (probe.baffle == Baffle::soft) {
        settings.fail("baffle", "rings are computed in a rigid baffle; give \"rigid\" or remove the key");
    }
    probe.elements = ring_face(read_ring_edges(settings));
}

void read_faults(Settings settings, Probe& probe) {
    const auto last = static_cast<double>(probe.elements.size() - 1);
    const double gain_spread_dB = settings.number_or("gain_spread_dB", 0.0, between(0.0, 40.0));
    const double phase_spread_deg = settings.number_or("phase_spread_deg", 0.0, between(0.0, 180.0));
    const auto seed = static_cast<std::uint64_t>(settings.integer_or("seed", 1, 0, 1LL << 53));
    const CounterRandom gain_errors(seed, 1);
    const CounterRandom phase_errors(seed, 2);
    for (std::size_t i = 0; i < probe.elements.size(); ++i) {
        probe.elements[i].gain = std::pow(10.0, gain_spread_dB * gain_errors.normal(i) / 20.0);
        probe.elements[i].delay_s = phase_spread_deg / 360.0 / probe.center_Hz * phase_errors.normal(i);
    }
    for (const double index : settings.numbers_or("dead", {}, between(0.0, last))) {
        if (index != std::floor(index)) {
            settings.fail("dead", plain(index) + " is no element; give whole numbers from 0 to " + plain(last));
        }
        probe.elements[static_cast<std::size_t>(index)].gain = 0.0;
    }
}

}  // namespace

Probe read_probe(Settings settings) {
    constexpr std::array<std::string_view, 5> kinds = {"linear", "curved", "phased", "rows", "annular"};
    constexpr std::array<std::string_view, 2> baffles = {"rigid", "soft"};
    Probe probe;
    probe.source = settings.source_text();
    probe.name = settings.text_or("name", settings.file().stem().string());
    probe.kind = settings.one_of("kind", kinds);
    probe.baffle = settings.one_of_or("baffle", "rigid", baffles) == "soft" ? Baffle::soft : Baffle::rigid;
    probe.center_Hz = settings.number("center_MHz", between(0.05, 50.0)) * 1e6;
    probe.bandwidth_fraction = settings.number("bandwidth_percent", between(1.0, 199.0)) / 100.0;

    if (probe.kind == "curved") {
        read_curved(settings, probe);
    } else if (probe.kind == "rows") {
        read_rows(settings, probe);
    } else if (probe.kind == "annular") {
        read_annular(settings, probe);
    } else {
        read_flat(settings, probe);
    }

    probe.pulse = GaussianPulse{probe.center_Hz, probe.bandwidth_fraction};
    if (settings.has("impulse_response_file")) {
        probe.pulse = read_impulse_response(settings.file().parent_path() / settings.text("impulse_response_file"));
    }
    if (const auto faults = settings.table_if("faults")) {
        read_faults(*faults, probe);
    }
    settings.finish();
    return probe;
}

Probe load_probe(const std::string& path_or_name, std::span<const Override> overrides) {
    return read_probe(Settings::from_file(find_shipped(ShippedKind::probe, path_or_name), overrides));
}

}  // namespace echoloom
