#include "sim/import/acquisition_settings.h"

#include <algorithm>
#include <array>
#include <cmath>

#include "sim/base/shipped.h"
#include "sim/base/text.h"

namespace echoloom {

namespace {

constexpr double mm = 1e-3;
constexpr double us = 1e-6;
constexpr double degree = 0.017453292519943295;
constexpr Range any_time_us = between(-1e6, 1e6);
constexpr Range any_place_mm = between(-1e4, 1e4);
constexpr Range any_index = between(0.0, 1e6);

/// Keys that must be there and are not, each with what to write.
class Missing {
  public:
    explicit Missing(std::string file) : file_(std::move(file)) {}

    /// True where the key is there.
    bool has(const Settings& settings, std::string_view key, const std::string& what) {
        if (settings.has(key)) {
            return true;
        }
        note(settings.place(key).key, what);
        return false;
    }
    void note(const std::string& key, const std::string& what) {
        words_ += (words_.empty() ? "" : "; ") + key + ' ' + what;
        ++count_;
    }
    void refuse_if_any() const {
        if (count_ > 0) {
            throw InputError({file_}, (count_ == 1 ? "a value is missing; give " : "values are missing; give ") +
                                          words_ + " (echoloom import --example prints a file to start from)");
        }
    }

  private:
    std::string file_;
    std::string words_;
    int count_ = 0;
};

/// A path is taken from the TOML file's own folder.
std::filesystem::path beside(const Settings& settings, const std::string& path) {
    return settings.file().parent_path() / path;
}

/// The same for what may be a shipped name, which a bare word is.
std::string shipped_or_beside(const Settings& settings, const std::string& path_or_name) {
    const bool is_path = path_or_name.find('/') != std::string::npos || path_or_name.ends_with(".toml");
    return is_path ? ("." / beside(settings, path_or_name)).string() : path_or_name;
}

Vec3 point(Settings& settings, std::string_view key) {
    const std::vector<double> values = settings.numbers(key, any_place_mm, 3);
    return Vec3(values[0], values[1], values[2]) * mm;
}

Vec3 point_or_origin(Settings& settings, std::string_view key) {
    return settings.has(key) ? point(settings, key) : Vec3::Zero();
}

std::vector<double> scaled(std::vector<double> values, double factor) {
    for (double& value : values) {
        value *= factor;
    }
    return values;
}

std::optional<NumberFile> number_file(Settings& settings, const std::string& key, const std::string& variable_key) {
    if (!settings.has(key)) {
        if (settings.has(variable_key)) {
            settings.fail(variable_key, "names a variable, and " + key + " is not there; give that too");
        }
        return std::nullopt;
    }
    return NumberFile{beside(settings, settings.text(key)), settings.text_or(variable_key, ""), settings.place(key)};
}

// ---- samples -----------------------------------------------------------------------------------------------------

std::vector<std::string> read_order(Settings& settings) {
    std::string text = settings.text("order");
    std::ranges::replace(text, ',', ' ');
    std::vector<std::string> words;
    std::size_t at = 0;
    while ((at = text.find_first_not_of(' ', at)) != std::string::npos) {
        const std::size_t end = std::min(text.find(' ', at), text.size());
        words.push_back(text.substr(at, end - at));
        at = end;
    }
    std::vector<std::string> sorted = words;
    std::ranges::sort(sorted);
    const bool one_event = sorted == std::vector<std::string>{"channel", "sample"};
    if (!one_event && sorted != std::vector<std::string>{"channel", "event", "sample"}) {
        settings.fail("order", "is \"" + text +
                                   "\"; give event, channel and sample in the order of the "
                                   "array's dimensions (slowest first, or as in MATLAB's size())");
    }
    return words;
}

RawLayout read_layout(Settings& settings, Missing& missing, std::size_t dimensions) {
    RawLayout layout;
    if (missing.has(settings, "type", "(of raw numbers: for example \"int16\" or \"float32\")")) {
        const std::string word = settings.one_of("type", number_type_names);
        layout.type = static_cast<NumberType>(std::ranges::find(number_type_names, word) - number_type_names);
    }
    if (missing.has(settings, "shape", "(of raw numbers: extents in the order of samples.order)")) {
        for (const double extent : settings.numbers("shape", between(1.0, 1e12), dimensions)) {
            if (extent != std::floor(extent)) {
                settings.fail("shape", plain(extent) + " is no extent; give whole numbers");
            }
            layout.shape.push_back(static_cast<std::size_t>(extent));
        }
    }
    constexpr std::array<std::string_view, 2> byte_orders = {"little", "big"};
    layout.big_endian = settings.one_of_or("byte_order", "little", byte_orders) == "big";
    layout.header_bytes = static_cast<std::size_t>(settings.integer_or("header_bytes", 0, 0, 1LL << 40));
    return layout;
}

void read_samples(Settings settings, Missing& missing, Acquisition& acquisition) {
    if (missing.has(settings, "order", "(the array's dimensions: for example \"event channel sample\")")) {
        acquisition.order = read_order(settings);
        acquisition.order_place = settings.place("order");
    }
    if (missing.has(settings, "file", "(.npy, .mat or raw numbers)")) {
        acquisition.samples.file = beside(settings, settings.text("file"));
        acquisition.samples.place = settings.place("file");
    }
    const std::string extension = acquisition.samples.file.extension().string();
    const bool described = extension == ".npy" || extension == ".mat";
    for (const char* key : {"type", "shape", "byte_order", "header_bytes"}) {
        if (settings.has(key) && described) {
            settings.fail(key, "a " + extension + " file holds this itself; remove the key");
        }
    }
    if (settings.has("variable") && extension != ".mat") {
        settings.fail("variable", "only .mat files hold variables; remove the key");
    }
    acquisition.samples.variable = settings.text_or("variable", "");
    if (!acquisition.samples.file.empty() && !described) {
        acquisition.raw = read_layout(settings, missing, acquisition.order.size());
    }
    acquisition.channel_elements = settings.numbers_or("channel_elements", {}, any_index);
    acquisition.channel_elements_place = settings.place("channel_elements");
}

// ---- time and medium ---------------------------------------------------------------------------------------------

void read_timing(Settings settings, Missing& missing, Acquisition& acquisition) {
    if (missing.has(settings, "sampling_MHz", "(samples per microsecond of each channel)")) {
        acquisition.sampling_rate_Hz = settings.number("sampling_MHz", between(1e-3, 1e5)) * 1e6;
    }
    if (missing.has(settings, "first_sample_us", "(when sample 0 was taken, counted from timing.zero)")) {
        acquisition.first_sample_s = scaled(settings.numbers("first_sample_us", any_time_us), us);
        acquisition.first_sample_place = settings.place("first_sample_us");
    }
    if (missing.has(settings, "zero",
                    "(what that counts from: \"first_firing\", \"front\" or, with delays of your own, \"delays\")")) {
        constexpr std::array<std::string_view, 3> words = {"first_firing", "front", "delays"};
        const std::string word = settings.one_of("zero", words);
        acquisition.clock_zero = static_cast<ClockZero>(std::ranges::find(words, word) - words.begin());
        acquisition.clock_place = settings.place("zero");
    }
    if (missing.has(settings, "pulse_center_us",
                    "(from an element's firing to the middle of its pulse, electronics included; 0 where unknown: a "
                    "[[point]] measures it)")) {
        acquisition.pulse_center_s = settings.number("pulse_center_us", any_time_us) * us;
    }
}

void read_medium(Settings settings, Missing& missing, Medium& medium) {
    if (missing.has(settings, "sound_speed_m_s", "(of what lay between array and targets)")) {
        medium.sound_speed_m_s = settings.number("sound_speed_m_s", between(300.0, 8000.0));
    }
    medium.attenuation_dB_cm_MHz = settings.number_or("attenuation_dB_cm_MHz", 0.0, between(0.0, 100.0));
    medium.attenuation_exponent = settings.number_or("attenuation_exponent", 1.0, between(0.0, 3.0));
}

// ---- events ------------------------------------------------------------------------------------------------------

void read_direction(Settings& settings, TransmitEvent& event) {
    if (event.kind == TransmitKind::plane) {
        const double angle_rad = settings.number("angle_deg", between(-80.0, 80.0)) * degree;
        event.direction = Vec3(std::sin(angle_rad), 0.0, std::cos(angle_rad));
        return;
    }
    const bool focused = event.kind == TransmitKind::focused;
    const char* key = focused ? "focus_mm" : "source_mm";
    event.focus_m = point(settings, key);
    const Vec3 path = focused ? event.focus_m - event.origin_m : event.origin_m - event.focus_m;
    if (!(path.norm() > 0.0)) {
        settings.fail(key, "is where origin_mm is; the event's direction runs from one to the other");
    }
    event.direction = path.normalized();
}

AcquiredEvent read_event(Settings settings, const Probe& probe, int index) {
    constexpr std::array<std::string_view, 4> kinds = {"focused", "plane", "element", "diverging"};
    AcquiredEvent acquired;
    TransmitEvent& event = acquired.event;
    event.kind = static_cast<TransmitKind>(std::ranges::find(kinds, settings.one_of("kind", kinds)) - kinds.begin());
    acquired.place = settings.place("kind");
    const std::size_t elements = probe.elements.size();
    if (event.kind == TransmitKind::element) {
        const auto element =
            static_cast<std::size_t>(settings.integer("element", 0, static_cast<long long>(elements) - 1));
        event.origin_m = probe.elements[element].center_m;
        event.direction = probe.elements[element].normal;
        event.delay_s.assign(elements, 0.0);
        event.weight.assign(elements, 0.0);
        event.weight[element] = 1.0;
    } else {
        event.origin_m = point_or_origin(settings, "origin_mm");
        read_direction(settings, event);
        event.delay_s = scaled(settings.numbers_or("delays_us", {}, any_time_us, elements), us);
        event.weight = settings.numbers_or("weights", {}, between(-1e6, 1e6), elements);
    }
    acquired.receivers = settings.numbers_or("channel_elements", {}, any_index);
    event.line = static_cast<int>(settings.integer_or("line", index, 0, 1 << 24));
    return acquired;
}

void read_events(Settings& settings, Missing& missing, Acquisition& acquisition) {
    std::vector<Settings> entries = settings.tables("event");
    const bool has_scan = settings.has("scan");
    if (has_scan && !entries.empty()) {
        settings.fail("scan", "given beside [[event]]; keep the one that holds the transmit events");
    }
    if (!has_scan && entries.empty()) {
        missing.note("scan", "(a scan file or a shipped name; or [[event]] entries with delays of your own)");
    }
    for (std::size_t i = 0; i < entries.size() && !acquisition.probe.elements.empty(); ++i) {
        acquisition.events.push_back(read_event(entries[i], acquisition.probe, static_cast<int>(i)));
    }
    acquisition.delays = number_file(settings, "delays_file", "delays_variable");
    acquisition.weights = number_file(settings, "weights_file", "weights_variable");
    for (const char* key : {"delays_file", "weights_file"}) {
        if (settings.has(key) && has_scan) {
            settings.fail(key, "the scan has delays and weights by its own law; give [[event]] entries in its place");
        }
    }
    acquisition.negate_delays = settings.flag_or("negate_delays", false);
    if (acquisition.negate_delays && has_scan) {
        settings.fail("negate_delays",
                      "is for delays of your own, and the scan makes its delays itself; turn the sign of "
                      "the scan's angles instead");
    }
    if (has_scan && acquisition.sampling_rate_Hz > 0.0 && !acquisition.probe.elements.empty()) {
        // The acquisition's own rate takes the place of the one in the file, which may be a shipped one.
        const Override rate{"sampling_MHz", plain(acquisition.sampling_rate_Hz * 1e-6), "scan."};
        acquisition.scan = load_scan(shipped_or_beside(settings, settings.text("scan")), acquisition.probe, {&rate, 1});
    }
}

void read_points(Settings& settings, Acquisition& acquisition) {
    for (Settings& entry : settings.tables("point")) {
        TruePoint target;
        target.position_m = point(entry, "position_mm");
        target.length_m = entry.number_or("length_mm", 0.0, between(0.0, 1e4)) * mm;
        target.strength_m = 1e-3;  // 0 dB: how strong it is nobody measured
        acquisition.points.push_back(target);
    }
}

/// Where a table is missing as a whole its keys are asked for like any other.
Settings table_or_empty(Settings& settings, const std::string& key) {
    const auto table = settings.table_if(key);
    return table ? *table : Settings::from_text('[' + key + "]\n", settings.file().string()).table(key);
}

}  // namespace

Acquisition read_acquisition(Settings settings) {
    Acquisition acquisition;
    acquisition.source = settings.source_text();
    Missing missing(settings.file().string());
    if (missing.has(settings, "probe", "(a probe file or a shipped name)")) {
        acquisition.probe = load_probe(shipped_or_beside(settings, settings.text("probe")));
    }
    read_samples(table_or_empty(settings, "samples"), missing, acquisition);
    read_timing(table_or_empty(settings, "timing"), missing, acquisition);
    read_medium(table_or_empty(settings, "medium"), missing, acquisition.medium);
    read_events(settings, missing, acquisition);
    read_points(settings, acquisition);
    settings.finish();  // a misspelt key is told before the one it stands for is missed
    missing.refuse_if_any();
    return acquisition;
}

}  // namespace echoloom
