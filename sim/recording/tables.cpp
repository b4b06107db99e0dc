#include "sim/recording/tables.h"

#include <functional>
#include <span>
#include <type_traits>

#include "sim/recording/names.h"

namespace echoloom {

namespace {

static_assert(sizeof(int) == sizeof(std::int32_t));

Table value(const std::string& path, const std::string& units, double number) {
    return {path, {units, {"."}}, {1}, std::vector{number}};
}

Table value(const std::string& path, const std::string& text) {
    return {path, {"1", {"."}}, {1}, std::vector{text}};
}

/// One number, or one text, per item.
template <typename Items, typename Get>
Table column(const std::string& path, const std::string& units, const std::string& axis, const Items& items, Get get) {
    using Value = std::remove_cvref_t<std::invoke_result_t<Get, decltype(items.front())>>;
    std::vector<Value> values;
    values.reserve(items.size());
    for (const auto& item : items) {
        values.push_back(std::invoke(get, item));
    }
    return {path, {units, {axis}}, {items.size()}, std::move(values)};
}

/// One row of `width` numbers per item; `get` gives anything that can be walked through.
template <typename Value, typename Items, typename Get>
Table rows(const std::string& path, const std::string& units, std::vector<std::string> axes, std::size_t width,
           const Items& items, Get get) {
    std::vector<Value> values;
    values.reserve(items.size() * width);
    for (const auto& item : items) {
        for (const auto& value : get(item)) {
            values.push_back(value);
        }
    }
    return {path, {units, std::move(axes)}, {items.size(), width}, std::move(values)};
}

template <typename Items, typename Get>
Table points(const std::string& path, const std::string& units, const std::string& axis, const Items& items, Get get) {
    return rows<double>(path, units, {axis, "x y z"}, 3, items, [&](const auto& item) {
        const Vec3& point = std::invoke(get, item);
        return std::array{point.x(), point.y(), point.z()};
    });
}

void add_channels(std::vector<Table>& tables, const RecordingInfo& info) {
    tables.push_back(rows<std::int32_t>("/receive/element", "1", {"event", "channel"}, info.channels, info.events,
                                        [](const TransmitEvent& event) { return std::span(event.receivers); }));
    tables.push_back(value("/receive/sampling_rate_Hz", "Hz", info.sampling_rate_Hz));
    tables.push_back(column("/receive/start_time_s", "s", "event", info.events, &TransmitEvent::start_time_s));
}

void add_probe(std::vector<Table>& tables, const Probe& probe) {
    tables.push_back(value("/probe/kind", probe.kind));
    tables.push_back(value("/probe/baffle", to_name(baffle_names, probe.baffle)));
    tables.push_back(value("/probe/center_Hz", "Hz", probe.center_Hz));
    tables.push_back(value("/probe/bandwidth_fraction", "1", probe.bandwidth_fraction));
    tables.push_back(value("/probe/elevation_focus_m", "m", probe.elevation_focus_m));
    tables.push_back(value("/probe/pitch_m", "m", probe.pitch_m));
    tables.push_back(points("/probe/element_center_m", "m", "element", probe.elements, &Element::center_m));
    tables.push_back(points("/probe/element_normal", "1", "element", probe.elements, &Element::normal));
    tables.push_back(rows<double>("/probe/element_size_m", "m", {"element", "lateral elevation"}, 2, probe.elements,
                                  [](const Element& element) {
                                      return std::array{element.width_m, element.height_m};
                                  }));
}

/// What only some kinds of probe have; left out for the others.
void add_shape(std::vector<Table>& tables, const RecordingInfo& info) {
    const Probe& probe = info.probe;
    if (probe.radius_m > 0.0) {
        tables.push_back(value("/probe/radius_m", "m", probe.radius_m));
    }
    if (probe.rows > 1) {
        tables.push_back({"/probe/rows", {"1", {"."}}, {1}, std::vector<std::int32_t>{probe.rows}});
    }
    if (probe.elements.front().is_ring()) {
        tables.push_back(rows<double>("/probe/element_ring_m", "m", {"element", "inner outer"}, 2, probe.elements,
                                      [](const Element& ring) {
                                          return std::array{ring.inner_m, ring.outer_m};
                                      }));
    }
    if (info.head) {
        tables.push_back(value("/probe/head/axis_to_face_m", "m", info.head->axis_to_face_m));
        tables.push_back(value("/probe/head/rotation_rate_rad_s", "rad s-1", info.head->rotation_rate_rad_s));
        tables.push_back(column("/probe/head/angle_rad", "rad", "event", info.events, &TransmitEvent::head_angle_rad));
    }
}

void add_transmit(std::vector<Table>& tables, const RecordingInfo& info) {
    const auto& events = info.events;
    const std::size_t elements = info.probe.elements.size();
    tables.push_back(column("/transmit/kind", "1", "event", events,
                            [](const TransmitEvent& event) { return to_name(transmit_kind_names, event.kind); }));
    tables.push_back(points("/transmit/origin_m", "m", "event", events, &TransmitEvent::origin_m));
    tables.push_back(points("/transmit/direction", "1", "event", events, &TransmitEvent::direction));
    tables.push_back(points("/transmit/focus_m", "m", "event", events, &TransmitEvent::focus_m));
    tables.push_back(rows<double>("/transmit/delay_s", "s", {"event", "element"}, elements, events,
                                  [](const TransmitEvent& event) { return std::span(event.delay_s); }));
    tables.push_back(rows<double>("/transmit/weight", "1", {"event", "element"}, elements, events,
                                  [](const TransmitEvent& event) { return std::span(event.weight); }));
    tables.push_back(column("/transmit/line", "1", "event", events,
                            [](const TransmitEvent& event) { return std::int32_t{event.line}; }));
    if (info.scan_depth_m) {
        tables.push_back(value("/transmit/depth_m", "m", *info.scan_depth_m));
    }
}

void add_medium(std::vector<Table>& tables, const Medium& medium) {
    tables.push_back(value("/medium/sound_speed_m_s", "m s-1", medium.sound_speed_m_s));
    tables.push_back(value("/medium/attenuation_dB_cm_MHz", "dB cm-1 MHz-1", medium.attenuation_dB_cm_MHz));
    tables.push_back(value("/medium/attenuation_exponent", "1", medium.attenuation_exponent));
    tables.push_back({"/medium/dispersive", {"1", {"."}}, {1}, std::vector<std::int32_t>{medium.dispersive ? 1 : 0}});
}

void add_truth(std::vector<Table>& tables, const Truth& truth) {
    const auto& regions = truth.regions;
    tables.push_back(points("/truth/points_m", "m", "point", truth.points, &TruePoint::position_m));
    tables.push_back(column("/truth/strength_m", "m", "point", truth.points, &TruePoint::strength_m));
    tables.push_back(column("/truth/length_m", "m", "point", truth.points, &TruePoint::length_m));
    tables.push_back(column("/truth/regions/name", "1", "region", regions, &TrueRegion::name));
    tables.push_back(column("/truth/regions/shape", "1", "region", regions,
                            [](const TrueRegion& region) { return to_name(region_shape_names, region.shape); }));
    tables.push_back(points("/truth/regions/center_m", "m", "region", regions, &TrueRegion::center_m));
    tables.push_back(points("/truth/regions/half_size_m", "m", "region", regions, &TrueRegion::half_size_m));
    tables.push_back(column("/truth/regions/contrast_dB", "dB", "region", regions, &TrueRegion::contrast_dB));
    tables.push_back(column("/truth/regions/inclusion", "1", "region", regions,
                            [](const TrueRegion& region) { return std::int32_t{region.inclusion ? 1 : 0}; }));
}

void add_sheets(std::vector<Table>& tables, const std::vector<TrueSheet>& sheets) {
    if (sheets.empty()) {
        return;
    }
    tables.push_back(column("/truth/sheets/name", "1", "sheet", sheets, &TrueSheet::name));
    tables.push_back(points("/truth/sheets/center_m", "m", "sheet", sheets, &TrueSheet::center_m));
    tables.push_back(rows<double>("/truth/sheets/half_size_m", "m", {"sheet", "lateral slope"}, 2, sheets,
                                  [](const TrueSheet& sheet) {
                                      return std::array{sheet.half_width_m, sheet.half_length_m};
                                  }));
    tables.push_back(column("/truth/sheets/tilt_rad", "rad", "sheet", sheets, &TrueSheet::tilt_rad));
}

void add_pulse(std::vector<Table>& tables, const Pulse& pulse) {
    if (const auto* sampled = std::get_if<SampledPulse>(&pulse)) {
        tables.push_back({"/probe/pulse/samples", {"1", {"time"}}, {sampled->samples.size()}, sampled->samples});
        tables.push_back(value("/probe/pulse/sampling_rate_Hz", "Hz", sampled->sampling_rate_Hz));
        tables.push_back(value("/probe/pulse/start_time_s", "s", sampled->start_s));
    }
}

template <typename Value>
void take(Sha256& digest, const std::vector<Value>& values) {
    if constexpr (std::is_same_v<Value, std::string>) {
        for (const std::string& text : values) {
            digest.update(std::as_bytes(std::span(text.c_str(), text.size() + 1)));
        }
    } else {
        digest.update(std::as_bytes(std::span(values)));
    }
}

}  // namespace

std::vector<Table> geometry_tables(const RecordingInfo& info) {
    std::vector<Table> tables;
    add_channels(tables, info);
    add_probe(tables, info.probe);
    add_shape(tables, info);
    add_transmit(tables, info);
    add_medium(tables, info.medium);
    return tables;
}

std::vector<Table> background_tables(const RecordingInfo& info) {
    std::vector<Table> tables;
    tables.push_back(value("/probe/name", info.probe.name));
    add_pulse(tables, info.probe.pulse);
    add_truth(tables, info.truth);
    add_sheets(tables, info.truth.sheets);
    tables.push_back(value("/source/phantom", info.source.phantom));
    tables.push_back(value("/source/probe", info.source.probe));
    tables.push_back(value("/source/scan", info.source.scan));
    tables.push_back(value("/source/seed", std::to_string(info.source.seed)));
    return tables;
}

std::string content_digest(Sha256 samples, const RecordingInfo& info) {
    for (const Table& table : geometry_tables(info)) {
        std::visit([&](const auto& values) { take(samples, values); }, table.values);
    }
    return "sha256:" + samples.hex();
}

}  // namespace echoloom
