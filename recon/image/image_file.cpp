/// The image file: see sim/recording/format.md.

#include <algorithm>
#include <cmath>

#include "recon/image/image.h"
#include "sim/base/atomic_file.h"
#include "sim/base/settings_text.h"
#include "sim/base/text.h"
#include "sim/recording/groups.h"

namespace echoloom {

namespace {

const FileFormat image_format{"echoloom image", 1};
const std::string recording_root = "/recording";
constexpr Range any_depth = between(-10.0, 10.0);

// ---- writing -----------------------------------------------------------------------------------------------------

std::vector<double> flat(const std::vector<Vec3>& points) {
    std::vector<double> values;
    for (const Vec3& point : points) {
        values.insert(values.end(), point.begin(), point.end());
    }
    return values;
}

void write_grid(Hdf5Writer& writer, const Grid& grid) {
    writer.group("/grid");
    if (const auto* lines = std::get_if<LineGrid>(&grid)) {
        writer.value("/grid/kind", "lines");
        writer.dataset("/grid/origin_m", flat(lines->origin_m), {lines->origin_m.size(), 3}, {"m", {"line", "x y z"}});
        writer.dataset("/grid/direction", flat(lines->direction), {lines->direction.size(), 3},
                       {"1", {"line", "x y z"}});
        writer.dataset("/grid/depth_m", lines->depth_m, {lines->depth_m.size()}, {"m", {"depth"}});
        return;
    }
    const auto& cartesian = std::get<CartesianGrid>(grid);
    writer.value("/grid/kind", "cartesian");
    writer.dataset("/grid/x_m", cartesian.x_m, {cartesian.x_m.size()}, {"m", {"x"}});
    writer.dataset("/grid/depth_m", cartesian.depth_m, {cartesian.depth_m.size()}, {"m", {"depth"}});
}

/// The coordinates of an image's dimensions; lines have none of their own.
std::vector<std::string> axes_of(const Grid& grid) {
    return {std::holds_alternative<LineGrid>(grid) ? "." : "grid/x_m", "grid/depth_m"};
}

void write_samples(Hdf5Writer& writer, const Image& image) {
    const Hdf5Label label{"1", axes_of(image.grid)};
    const Shape shape{image.columns, image.depths};
    writer.dataset("/envelope", image.envelope, shape, label);
    if (!image.real.empty() && image.imaginary.empty()) {
        writer.dataset("/rf", image.real, shape, label);
    } else if (!image.real.empty()) {
        writer.group("/iq");
        writer.dataset("/iq/real", image.real, shape, label);
        writer.dataset("/iq/imaginary", image.imaginary, shape, label);
    }
}

void write_recipe(Hdf5Writer& writer, const Image& image) {
    writer.group("/recipe");
    writer.value("/recipe/name", image.recipe.name);
    writer.value("/recipe/title", image.recipe.title);
    writer.value("/recipe/text", recipe_toml(image.recipe));
    writer.value("/recipe/source", image.recipe.source);
    writer.value("/recipe/sound_speed_m_s", image.sound_speed_m_s, "m s-1");
    writer.value("/recipe/dynamic_range_dB", image.recipe.dynamic_range_dB, "dB");
    writer.value("/recipe/reference_dB", image.recipe.reference_dB.value_or(0.0), "dB");
}

void write_recording(Hdf5Writer& writer, const RecordingInfo& info) {
    writer.group(recording_root);
    writer.attribute(recording_root, "content_digest", info.content_digest);
    writer.attribute(recording_root, "program_version", info.program_version);
    write_groups(writer, recording_root, info);
    writer.value(recording_root + "/receive/samples", static_cast<double>(info.samples), "1");
}

// ---- reading -----------------------------------------------------------------------------------------------------

std::vector<double> read_numbers(const Hdf5Reader& reader, const std::string& path, const WantedShape& wanted,
                                 const Range& range) {
    auto values = reader.numbers(path, wanted).values;
    for (const double value : values) {
        if (!in_range(value, range)) {
            reader.fail(path, "holds " + plain(value) + "; give " + wanted_number(path, range));
        }
    }
    return values;
}

/// Coordinates that rise from sample to sample.
std::vector<double> read_axis(const Hdf5Reader& reader, const std::string& path, const std::string& shape) {
    auto values = read_numbers(reader, path, {{any_extent}, shape}, any_depth);
    if (values.empty() || std::ranges::adjacent_find(values, std::ranges::greater_equal()) != values.end()) {
        reader.fail(path, "does not rise from each value to the next; give the grid's coordinates in order");
    }
    return values;
}

std::vector<Vec3> read_points(const Hdf5Reader& reader, const std::string& path, std::size_t lines,
                              const Range& range) {
    const auto values = read_numbers(reader, path, {{lines, 3}, "[line, 3]"}, range);
    std::vector<Vec3> points;
    for (std::size_t i = 0; i < values.size(); i += 3) {
        points.emplace_back(values[i], values[i + 1], values[i + 2]);
    }
    return points;
}

Grid read_grid(const Hdf5Reader& reader) {
    const std::string kind = reader.text("/grid/kind");
    const auto depth_m = read_axis(reader, "/grid/depth_m", "[depth]");
    if (kind == "cartesian") {
        return CartesianGrid{read_axis(reader, "/grid/x_m", "[x]"), depth_m};
    }
    if (kind != "lines") {
        reader.fail("/grid/kind", "\"" + kind + "\" is not known; give lines or cartesian");
    }
    LineGrid grid;
    grid.depth_m = depth_m;
    grid.origin_m = read_points(reader, "/grid/origin_m", any_extent, any_depth);
    grid.direction = read_points(reader, "/grid/direction", grid.origin_m.size(), between(-1.0, 1.0));
    for (const Vec3& direction : grid.direction) {
        if (std::abs(direction.norm() - 1.0) > 1e-5) {
            reader.fail("/grid/direction",
                        "has a row of length " + plain(direction.norm()) + "; give vectors of length 1");
        }
    }
    return grid;
}

std::vector<float> read_samples(const Hdf5Reader& reader, const std::string& path, const Image& image) {
    auto values = reader.floats(path, {{image.columns, image.depths}, "[column, depth] of the grid"}).values;
    if (!std::ranges::all_of(values, [](float value) { return std::isfinite(value); })) {
        reader.fail(path, "holds values that are not finite; give finite numbers");
    }
    return values;
}

/// Of an image that somebody else's reconstruction formed, whatever it says.
Recipe read_stored_recipe(const Hdf5Reader& reader, const std::filesystem::path& path) {
    Recipe recipe =
        read_recipe(Settings::from_text(reader.text_or("/recipe/text", ""), path.string() + ": /recipe/text"));
    recipe.name = reader.text_or("/recipe/name", path.stem().string());
    recipe.title = reader.text_or("/recipe/title", recipe.name);
    recipe.source = reader.text_or("/recipe/source", "");
    return recipe;
}

RecordingInfo read_recording(const Hdf5Reader& reader) {
    RecordingInfo info = read_groups(reader, recording_root);
    info.content_digest = reader.text_attribute(recording_root, "content_digest").value_or("");
    info.program_version = reader.text_attribute(recording_root, "program_version").value_or("");
    info.samples =
        static_cast<std::size_t>(reader.number(recording_root + "/receive/samples", between(1.0, 4294967296.0)));
    return info;
}

}  // namespace

void write_image(const std::filesystem::path& path, const Image& image) {
    AtomicFile file(path);
    Hdf5Writer writer(file.temporary(), path.string());
    write_format(writer, image_format, program_version());
    writer.attribute("/", "recording_digest", image.recording.content_digest);
    writer.attribute("/", "NX_class", "NXdata");
    writer.attribute("/", "signal", "envelope");
    writer.attribute("/", "axes", axes_of(image.grid));
    write_grid(writer, image.grid);
    write_samples(writer, image);
    write_recipe(writer, image);
    write_recording(writer, image.recording);
    write_complete(writer);
    writer.close();
    file.commit();
}

Image read_image(const std::filesystem::path& path) {
    const Hdf5Reader reader(path);
    check_format(reader, image_format);
    Image image;
    image.grid = read_grid(reader);
    image.columns = std::holds_alternative<LineGrid>(image.grid) ? std::get<LineGrid>(image.grid).origin_m.size()
                                                                 : std::get<CartesianGrid>(image.grid).x_m.size();
    image.depths = std::visit([](const auto& grid) { return grid.depth_m.size(); }, image.grid);
    image.envelope = read_samples(reader, "/envelope", image);
    if (reader.has("/rf")) {
        image.real = read_samples(reader, "/rf", image);
    } else if (reader.has("/iq")) {
        image.real = read_samples(reader, "/iq/real", image);
        image.imaginary = read_samples(reader, "/iq/imaginary", image);
    }
    image.recipe = read_stored_recipe(reader, path);
    image.recording = read_recording(reader);
    image.sound_speed_m_s =
        reader.number_or("/recipe/sound_speed_m_s", image.recording.medium.sound_speed_m_s, positive(2e4));
    return image;
}

}  // namespace echoloom
