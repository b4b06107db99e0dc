#include <charconv>
#include <cmath>

#include "sim/base/text.h"
#include "sim/recording/group_reader.h"
#include "sim/recording/groups.h"
#include "sim/recording/names.h"

namespace echoloom {

namespace {

// What no array or medium of this trade comes near; beyond lies a wrong unit or a damaged file.
constexpr Range any_sampling_rate = between(1e3, 1e11);
constexpr Range any_frequency = between(1e3, 1e9);
constexpr Range any_sound_speed = between(50.0, 2e4);
constexpr Range any_place = between(-10.0, 10.0);
constexpr Range any_time = between(-10.0, 10.0);
constexpr Range finite = {};
constexpr Range finite_or_infinite = {-no_limit, no_limit, false, true};

void read_pulse(const GroupReader& group, Probe& probe) {
    probe.pulse = GaussianPulse{probe.center_Hz, probe.bandwidth_fraction};
    if (!group.has("samples")) {
        return;
    }
    SampledPulse pulse;
    pulse.samples = group.numbers("samples", {{any_extent}, "[time]"}, finite);
    pulse.sampling_rate_Hz = group.number("sampling_rate_Hz", any_sampling_rate);
    pulse.start_s = group.number("start_time_s", any_time);
    if (pulse.samples.size() < 2) {
        group.file().fail(group.at("samples"), "holds no pulse; give two samples or more");
    }
    probe.pulse = std::move(pulse);
}

void read_elements(const GroupReader& group, Probe& probe) {
    const auto shape = group.file().numbers(group.at("element_center_m"), {{any_extent, 3}, "[element, 3]"}).shape;
    const std::size_t count = shape.front();
    if (count == 0) {
        group.file().fail(group.at("element_center_m"), "holds no element; give one row for each");
    }
    const auto centers = group.points("element_center_m", "element", count, any_place);
    const auto normals = group.unit_vectors("element_normal", "element", count);
    const auto sizes = group.numbers("element_size_m", {{count, 2}, "[element, 2]"}, positive(any_place.most));
    const auto rings = group.has("element_ring_m")
                           ? group.numbers("element_ring_m", {{count, 2}, "[element, 2]"}, between(0.0, any_place.most))
                           : std::vector<double>(2 * count, 0.0);
    probe.elements.resize(count);
    for (std::size_t i = 0; i < count; ++i) {
        probe.elements[i].center_m = centers[i];
        probe.elements[i].normal = normals[i];
        probe.elements[i].width_m = sizes[2 * i];
        probe.elements[i].height_m = sizes[2 * i + 1];
        probe.elements[i].inner_m = rings[2 * i];
        probe.elements[i].outer_m = rings[2 * i + 1];
        if (group.has("element_ring_m") && !(rings[2 * i + 1] > rings[2 * i])) {
            group.file().fail(group.at("element_ring_m"), "row " + std::to_string(i) + " goes from radius " +
                                                              plain(rings[2 * i]) + " to " + plain(rings[2 * i + 1]) +
                                                              "; give the inner radius, then a larger outer one");
        }
        const double diameter_m = 2.0 * rings[2 * i + 1];
        if (diameter_m > 0.0 && !(std::abs(sizes[2 * i] - diameter_m) + std::abs(sizes[2 * i + 1] - diameter_m) <=
                                  1e-5 * diameter_m)) {  // float32 is good to 1e-7
            group.file().fail(group.at("element_size_m"), "row " + std::to_string(i) + " is " + plain(sizes[2 * i]) +
                                                              " x " + plain(sizes[2 * i + 1]) +
                                                              ", but the ring's outer diameter is " +
                                                              plain(diameter_m) + "; give that twice");
        }
    }
}

void read_rows(const GroupReader& group, Probe& probe) {
    const auto count = static_cast<int>(probe.elements.size());
    probe.rows = group.has("rows") ? group.file().integer(group.at("rows"), 1, count) : 1;
    if (count % probe.rows != 0) {
        group.file().fail(group.at("rows"), "is " + std::to_string(probe.rows) + ", and " +
                                                counted(static_cast<std::size_t>(count), "element") +
                                                " cannot be divided into columns of that many");
    }
}

/// A dataset that one kind of array has and no other.
void expect_with_kind(const GroupReader& group, const Probe& probe, std::string_view kind, const std::string& name,
                      bool there) {
    if ((probe.kind == kind) != there) {
        group.file().fail(group.at(name), there ? "belongs to a probe whose kind is \"" + std::string(kind) +
                                                      "\", and this one is \"" + probe.kind + "\"; leave one out"
                                                : "is missing; a probe whose kind is \"" + probe.kind + "\" needs it");
    }
}

void check_kind(const GroupReader& group, const Probe& probe) {
    expect_with_kind(group, probe, "curved", "radius_m", probe.radius_m > 0.0);
    expect_with_kind(group, probe, "rows", "rows", probe.rows > 1);
    expect_with_kind(group, probe, "annular", "element_ring_m", probe.elements.front().is_ring());
}

Probe read_probe_group(const GroupReader& group) {
    Probe probe;
    probe.name = group.file().text_or(group.at("name"), "");
    probe.kind = group.known_name("kind", group.file().text_or(group.at("kind"), "linear"), probe_kind_names);
    probe.baffle = group.from_name<Baffle>("baffle", group.file().text_or(group.at("baffle"), "rigid"), baffle_names);
    probe.center_Hz = group.number("center_Hz", any_frequency);
    probe.bandwidth_fraction = group.number("bandwidth_fraction", positive(2.0));
    probe.elevation_focus_m = group.number_or("elevation_focus_m", no_limit, Range{0.0, no_limit, true, true});
    probe.pitch_m = group.number_or("pitch_m", 0.0, between(0.0, any_place.most));
    probe.radius_m = group.number_or("radius_m", 0.0, between(0.0, any_place.most));
    read_elements(group, probe);
    read_rows(group, probe);
    check_kind(group, probe);
    if (group.has("pulse")) {
        read_pulse(GroupReader(group.file(), group.at("pulse")), probe);
    } else {
        probe.pulse = GaussianPulse{probe.center_Hz, probe.bandwidth_fraction};
    }
    return probe;
}

void read_channels(const GroupReader& group, RecordingInfo& info) {
    const auto elements = group.file().integers(group.at("element"), {{any_extent, any_extent}, "[event, channel]"});
    const std::size_t events = elements.shape[0];
    info.channels = elements.shape[1];
    if (elements.values.empty()) {
        group.file().fail(group.at("element"),
                          "is " + extents_text(elements.shape) + "; give at least one event and one channel");
    }
    info.sampling_rate_Hz = group.number("sampling_rate_Hz", any_sampling_rate);
    const auto starts = group.numbers("start_time_s", {{events}, "[event]"}, any_time);
    info.events.resize(events);
    const auto last = static_cast<int>(info.probe.elements.size()) - 1;
    for (std::size_t event = 0; event < events; ++event) {
        const auto begin = elements.values.begin() + static_cast<std::ptrdiff_t>(event * info.channels);
        auto& receivers = info.events[event].receivers;
        receivers.assign(begin, begin + static_cast<std::ptrdiff_t>(info.channels));
        for (std::size_t channel = 0; channel < info.channels; ++channel) {
            if (receivers[channel] < 0 || receivers[channel] > last) {
                group.file().fail(group.at("element"), "entry " + std::to_string(event) + ", " +
                                                           std::to_string(channel) + " names element " +
                                                           std::to_string(receivers[channel]) +
                                                           "; give an index from 0 to " + std::to_string(last));
            }
        }
        info.events[event].start_time_s = starts[event];
    }
}

/// Where there is a focus it is a place; where there is none all three numbers are NaN.
std::vector<Vec3> read_focus(const GroupReader& group, std::size_t events) {
    if (!group.has("focus_m")) {
        return std::vector<Vec3>(events, TransmitEvent{}.focus_m);
    }
    const auto values = group.file().numbers(group.at("focus_m"), {{events, 3}, "[event, 3]"}).values;
    std::vector<Vec3> focus;
    for (std::size_t event = 0; event < events; ++event) {
        focus.emplace_back(values[3 * event], values[3 * event + 1], values[3 * event + 2]);
        if (!focus.back().allFinite() && !focus.back().array().isNaN().all()) {
            group.file().fail(group.at("focus_m"), "row " + std::to_string(event) +
                                                       " is neither a place nor NaN throughout; give one or the other");
        }
    }
    return focus;
}

void read_transmit(const GroupReader& group, RecordingInfo& info) {
    const std::size_t events = info.events.size();
    const std::size_t elements = info.probe.elements.size();
    const WantedShape per_element{{events, elements}, "[event, element]"};
    const auto kinds = group.names<TransmitKind>("kind", {{events}, "[event]"}, transmit_kind_names);
    const auto origins = group.points("origin_m", "event", events, any_place);
    const auto directions = group.unit_vectors("direction", "event", events);
    const auto focus = read_focus(group, events);
    const auto delays = group.numbers("delay_s", per_element, any_time);
    const auto weights = group.numbers("weight", per_element, finite);
    std::vector<int> lines;
    if (group.has("line")) {
        lines = group.file().integers(group.at("line"), {{events}, "[event]"}).values;
    }
    for (std::size_t i = 0; i < events; ++i) {
        TransmitEvent& event = info.events[i];
        const auto row = static_cast<std::ptrdiff_t>(i * elements);
        const auto width = static_cast<std::ptrdiff_t>(elements);
        event.kind = kinds[i];
        event.origin_m = origins[i];
        event.direction = directions[i];
        event.focus_m = focus[i];
        event.delay_s.assign(delays.begin() + row, delays.begin() + row + width);
        event.weight.assign(weights.begin() + row, weights.begin() + row + width);
        event.line = lines.empty() ? static_cast<int>(i) : lines[i];
    }
}

void read_head(const GroupReader& group, RecordingInfo& info) {
    HeadMotion head;
    head.axis_to_face_m = group.number("axis_to_face_m", between(0.0, any_place.most));
    head.rotation_rate_rad_s = group.number("rotation_rate_rad_s", between(-1e6, 1e6));
    const auto angles = group.numbers("angle_rad", {{info.events.size()}, "[event]"}, between(-10.0, 10.0));
    for (std::size_t i = 0; i < angles.size(); ++i) {
        info.events[i].head_angle_rad = angles[i];
    }
    info.head = head;
}

bool read_flag(const GroupReader& group, const std::string& name) {
    return group.has(name) && group.file().integer(group.at(name), 0, 1) == 1;
}

Medium read_medium(const GroupReader& group) {
    Medium medium;
    medium.sound_speed_m_s = group.number("sound_speed_m_s", any_sound_speed);
    medium.attenuation_dB_cm_MHz = group.number_or("attenuation_dB_cm_MHz", 0.0, between(0.0, 1000.0));
    const Range exponents = between(0.0, 10.0);
    // Only without attenuation does it not matter: a wrong guess would go unnoticed.
    medium.attenuation_exponent = medium.attenuation_dB_cm_MHz > 0.0
                                      ? group.number("attenuation_exponent", exponents)
                                      : group.number_or("attenuation_exponent", 1.0, exponents);
    medium.dispersive = read_flag(group, "dispersive");
    return medium;
}

void read_points(const GroupReader& group, Truth& truth) {
    const auto shape = group.file().numbers(group.at("points_m"), {{any_extent, 3}, "[point, 3]"}).shape;
    const auto places = group.points("points_m", "point", shape.front(), any_place);
    const auto strengths = group.numbers("strength_m", {{shape.front()}, "[point]"}, finite);
    // Optional: acquired data with points alone need not state that they have no length.
    const auto lengths = group.file().has(group.at("length_m"))
                             ? group.numbers("length_m", {{shape.front()}, "[point]"}, between(0.0, any_place.most))
                             : std::vector<double>(places.size(), 0.0);
    for (std::size_t i = 0; i < places.size(); ++i) {
        truth.points.push_back({places[i], strengths[i], lengths[i]});
    }
}

void read_regions(const GroupReader& group, Truth& truth) {
    const auto names = group.file().texts(group.at("name"), {{any_extent}, "[region]"});
    const WantedShape per_region{{names.size()}, "[region]"};
    const auto shapes = group.names<RegionShape>("shape", per_region, region_shape_names);
    const auto centers = group.points("center_m", "region", names.size(), any_place);
    const auto half_sizes = group.points("half_size_m", "region", names.size(), between(0.0, any_place.most));
    const auto contrasts = group.numbers("contrast_dB", per_region, finite_or_infinite);
    const auto inclusions = group.file().integers(group.at("inclusion"), per_region).values;
    for (std::size_t i = 0; i < names.size(); ++i) {
        truth.regions.push_back({names[i], shapes[i], centers[i], half_sizes[i], contrasts[i], inclusions[i] != 0});
    }
}

void read_sheets(const GroupReader& group, Truth& truth) {
    const auto names = group.file().texts(group.at("name"), {{any_extent}, "[sheet]"});
    const auto centers = group.points("center_m", "sheet", names.size(), any_place);
    const auto half_sizes =
        group.numbers("half_size_m", {{names.size(), 2}, "[sheet, 2]"}, between(0.0, any_place.most));
    const auto tilts = group.numbers("tilt_rad", {{names.size()}, "[sheet]"}, between(-1.57, 1.57));
    for (std::size_t i = 0; i < names.size(); ++i) {
        truth.sheets.push_back({names[i], centers[i], half_sizes[2 * i], half_sizes[2 * i + 1], tilts[i]});
    }
}

Truth read_truth(const GroupReader& group) {
    Truth truth;
    if (group.file().has(group.at("points_m"))) {
        read_points(group, truth);
    }
    if (group.has("regions")) {
        read_regions(GroupReader(group.file(), group.at("regions")), truth);
    }
    if (group.has("sheets")) {
        read_sheets(GroupReader(group.file(), group.at("sheets")), truth);
    }
    return truth;
}

RecordingSource read_source(const GroupReader& group) {
    RecordingSource source;
    source.phantom = group.file().text_or(group.at("phantom"), "");
    source.probe = group.file().text_or(group.at("probe"), "");
    source.scan = group.file().text_or(group.at("scan"), "");
    const std::string seed = group.file().text_or(group.at("seed"), "0");
    const auto result = std::from_chars(seed.data(), seed.data() + seed.size(), source.seed);
    if (result.ec != std::errc() || result.ptr != seed.data() + seed.size()) {
        group.file().fail(group.at("seed"), "is \"" + seed + "\"; give a whole number as text");
    }
    return source;
}

}  // namespace

RecordingInfo read_groups(const Hdf5Reader& reader, const std::string& root) {
    const auto group = [&](const std::string& name) { return GroupReader(reader, root + '/' + name); };
    RecordingInfo info;
    info.probe = read_probe_group(group("probe"));
    read_channels(group("receive"), info);
    read_transmit(group("transmit"), info);
    if (reader.has(root + "/probe/head")) {
        read_head(group("probe/head"), info);
    }
    if (reader.has(root + "/transmit/depth_m")) {
        info.scan_depth_m = group("transmit").number("depth_m", positive(any_place.most));
    }
    info.medium = read_medium(group("medium"));
    if (reader.has(root + "/truth")) {
        info.truth = read_truth(group("truth"));
    }
    if (reader.has(root + "/source")) {
        info.source = read_source(group("source"));
    }
    info.probe.source = info.source.probe;
    return info;
}

}  // namespace echoloom
