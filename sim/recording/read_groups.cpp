#include <charconv>
#include <cmath>

#include "sim/base/settings_text.h"
#include "sim/base/text.h"
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

/// One group's datasets, read and held to their limits. `at` names them in errors.
class GroupReader {
  public:
    GroupReader(const Hdf5Reader& file, std::string path) : file_(file), path_(std::move(path)) {}

    const Hdf5Reader& file() const { return file_; }
    std::string at(const std::string& name) const { return path_ + '/' + name; }
    bool has(const std::string& name) const { return file_.has(at(name)); }

    double number(const std::string& name, const Range& range) const { return file_.number(at(name), range); }
    double number_or(const std::string& name, double fallback, const Range& range) const {
        return file_.number_or(at(name), fallback, range);
    }

    std::vector<double> numbers(const std::string& name, const WantedShape& wanted, const Range& range) const {
        const auto array = file_.numbers(at(name), wanted);
        for (std::size_t i = 0; i < array.values.size(); ++i) {
            if (!in_range(array.values[i], range)) {
                file_.fail(at(name), "entry " + index_text(i, array.shape) + " is " + plain(array.values[i]) +
                                         "; give " + wanted_number(name, range));
            }
        }
        return array.values;
    }

    std::vector<Vec3> points(const std::string& name, const std::string& axis, std::size_t count,
                             const Range& range) const {
        const auto values = numbers(name, {{count, 3}, '[' + axis + ", 3]"}, range);
        std::vector<Vec3> points;
        for (std::size_t i = 0; i < values.size(); i += 3) {
            points.emplace_back(values[i], values[i + 1], values[i + 2]);
        }
        return points;
    }

    std::vector<Vec3> unit_vectors(const std::string& name, const std::string& axis, std::size_t count) const {
        constexpr double tolerance = 1e-5;  // float32 components are good to 1e-7
        auto vectors = points(name, axis, count, finite);
        for (std::size_t i = 0; i < vectors.size(); ++i) {
            if (!(std::abs(vectors[i].norm() - 1.0) <= tolerance)) {
                file_.fail(at(name), "row " + std::to_string(i) + " has the length " + plain(vectors[i].norm()) +
                                         "; give vectors of length 1");
            }
        }
        return vectors;
    }

    /// Enumeration values of words, one per item.
    template <typename Enumeration, std::size_t count>
    std::vector<Enumeration> words(const std::string& name, const WantedShape& wanted,
                                   const std::array<std::string_view, count>& known) const {
        std::vector<Enumeration> values;
        for (const std::string& word : file_.texts(at(name), wanted)) {
            values.push_back(from_word<Enumeration>(name, word, known));
        }
        return values;
    }

    template <typename Enumeration, std::size_t count>
    Enumeration from_word(const std::string& name, const std::string& word,
                          const std::array<std::string_view, count>& known) const {
        known_word(name, word, known);
        return static_cast<Enumeration>(std::ranges::find(known, word) - known.begin());
    }

    /// The word itself.
    std::string known_word(const std::string& name, const std::string& word,
                           std::span<const std::string_view> known) const {
        if (std::ranges::find(known, word) == known.end()) {
            std::string allowed;
            for (const std::string_view other : known) {
                allowed += (allowed.empty() ? "" : ", ") + std::string(other);
            }
            file_.fail(at(name), "\"" + word + "\" is not known; give one of " + allowed);
        }
        return word;
    }

  private:
    /// "3, 17" for the place of a value in C order.
    static std::string index_text(std::size_t index, const Shape& shape) {
        std::size_t below = 1;
        for (const std::size_t extent : shape) {
            below *= extent;
        }
        std::string words;
        for (const std::size_t extent : shape) {
            below /= extent;
            words += (words.empty() ? "" : ", ") + std::to_string(index / below % extent);
        }
        return words;
    }

    const Hdf5Reader& file_;
    std::string path_;
};

void read_pulse(const GroupReader& group, Probe& probe) {
    probe.pulse = GaussianPulse{probe.center_Hz, probe.bandwidth_fraction};
    if (!group.has("samples")) {
        return;
    }
    SampledPulse pulse;
    pulse.samples = group.numbers("samples", {{any_extent}, "[time]"}, finite);
    pulse.sampling_rate_Hz = group.number("sampling_rate_Hz", any_sampling_rate);
    pulse.start_s = group.number("start_s", any_time);
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
    probe.kind = group.known_word("kind", group.file().text_or(group.at("kind"), "linear"), probe_kind_names);
    probe.baffle = group.from_word<Baffle>("baffle", group.file().text_or(group.at("baffle"), "rigid"), baffle_names);
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
                          "is " + in_words(elements.shape) + "; give at least one event and one channel");
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
                group.file().fail(group.at("element"), "index [" + std::to_string(event) + ", " +
                                                           std::to_string(channel) + "] names element " +
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
    const auto kinds = group.words<TransmitKind>("kind", {{events}, "[event]"}, transmit_kind_names);
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
    medium.attenuation_exponent = group.number_or("attenuation_exponent", 1.0, between(0.0, 10.0));
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
    const auto shapes = group.words<RegionShape>("shape", per_region, region_shape_names);
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
