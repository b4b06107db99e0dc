#include <gtest/gtest.h>

#include "recon/image/image.h"
#include "sim/recording/recording_writer.h"
#include "sim/recording/tables.h"
#include "tests/base/message.h"
#include "tests/base/temporary_folder.h"
#include "tests/recording/sample.h"

namespace echoloom::recording_tests {
namespace {

constexpr const char* recipe_text = R"(
sound_speed_m_s = 1500.5
keep_rf = true
interpolation = "cubic"
[receive]
focus = "zones"
zone_depths_mm = [10.1, 20.3, 40.7]
aperture = "growing"
f_number = 1.7
min_elements = 2
max_elements = 6
window = "tukey"
window_parameter = 0.3
[picture]
title = "Zones \u2013 Tukey"
attenuation_compensation_dB_cm_MHz = 0.4
dynamic_range_dB = 47.5
reference_dB = -3.25
)";

Image small_image(const Grid& grid, std::size_t columns, std::size_t depths) {
    Image image;
    image.grid = grid;
    image.columns = columns;
    image.depths = depths;
    for (std::size_t i = 0; i < columns * depths; ++i) {
        image.envelope.push_back(0.1F * static_cast<float>(i));
        image.real.push_back(0.3F - static_cast<float>(i));
    }
    image.recipe = read_recipe(Settings::from_text(recipe_text, "zones.toml"));
    image.recording = small_sample().info;
    image.recording.content_digest = "sha256:0123";
    image.recording.program_version = "9.9";
    image.sound_speed_m_s = 1500.5;
    return image;
}

Image line_image() {
    LineGrid grid;
    grid.origin_m = {{-1e-3, 0, 0}, {0, 0, 0}, {1e-3, 0, 0}};
    grid.direction = {{0, 0, 1}, {0.6, 0, 0.8}, {-0.6, 0, 0.8}};
    grid.depth_m = {0.01, 0.02, 0.03, 0.04};
    return small_image(grid, 3, 4);
}

Image cartesian_image() {
    Image image = small_image(CartesianGrid{{-1e-3, 0.1, 0.2, 0.3, 0.4}, {1.0 / 3.0, 2.0 / 3.0}}, 5, 2);
    image.imaginary = image.real;
    image.imaginary[3] = 77.0F;
    return image;
}

void expect_same(const Image& read, const Image& written) {
    EXPECT_EQ(read.columns, written.columns);
    EXPECT_EQ(read.depths, written.depths);
    EXPECT_EQ(read.envelope, written.envelope);
    EXPECT_EQ(read.real, written.real);
    EXPECT_EQ(read.imaginary, written.imaginary);
    EXPECT_EQ(read.sound_speed_m_s, written.sound_speed_m_s);
    EXPECT_EQ(recipe_toml(read.recipe), recipe_toml(written.recipe));
    EXPECT_EQ(read.recipe.name, written.recipe.name);
    EXPECT_EQ(read.recipe.title, written.recipe.title);
    EXPECT_EQ(read.recipe.source, written.recipe.source);
    EXPECT_EQ(read.recipe.focus_depths_m, written.recipe.focus_depths_m);
    EXPECT_EQ(read.recipe.reference_dB, written.recipe.reference_dB);
    EXPECT_EQ(fingerprint(read.recording, {}), fingerprint(written.recording, {}));
}

TEST(ImageFile, LinesKeepEveryBit) {
    const TemporaryFolder folder;
    const Image image = line_image();
    write_image(folder / "lines.h5", image);
    const Image read = read_image(folder / "lines.h5");
    expect_same(read, image);
    const auto& grid = std::get<LineGrid>(read.grid);
    EXPECT_EQ(grid.origin_m, std::get<LineGrid>(image.grid).origin_m);
    EXPECT_EQ(grid.direction, std::get<LineGrid>(image.grid).direction);
    EXPECT_EQ(grid.depth_m, std::get<LineGrid>(image.grid).depth_m);
    EXPECT_EQ(folder.names(), std::vector<std::string>{"lines.h5"});
}

TEST(ImageFile, CartesianGridsKeepEveryBit) {
    const TemporaryFolder folder;
    const Image image = cartesian_image();
    write_image(folder / "grid.h5", image);
    const Image read = read_image(folder / "grid.h5");
    expect_same(read, image);
    EXPECT_EQ(std::get<CartesianGrid>(read.grid).x_m, std::get<CartesianGrid>(image.grid).x_m);
    EXPECT_EQ(std::get<CartesianGrid>(read.grid).depth_m, std::get<CartesianGrid>(image.grid).depth_m);
}

TEST(ImageFile, AnImageOfABareAcquiredRecordingKeepsToo) {
    const TemporaryFolder folder;
    Image image = line_image();
    image.real.clear();
    image.recipe = Recipe{};
    image.recording.truth = {};
    image.recording.source = {};
    image.recording.content_digest.clear();
    write_image(folder / "acquired.h5", image);
    expect_same(read_image(folder / "acquired.h5"), image);
}

TEST(ImageFile, TwoWritesAreTheSameBytes) {
    const TemporaryFolder folder;
    write_image(folder / "one.h5", cartesian_image());
    write_image(folder / "two.h5", cartesian_image());
    EXPECT_EQ(folder.read("one.h5"), folder.read("two.h5"));
}

TEST(ImageFile, RecordingsAndImagesAreNotTakenForEachOther) {
    const TemporaryFolder folder;
    const std::string image = (folder / "image.h5").string();
    const std::string recording = (folder / "recording.h5").string();
    write_image(image, line_image());
    write(small_sample(), recording);
    EXPECT_EQ(message_of([&] { const RecordingReader reader(image); }),
              "2 " + image + ": /@format: is \"echoloom image\"; give the recording that it was formed from");
    EXPECT_EQ(message_of([&] { read_image(recording); }),
              "2 " + recording + ": /@format: is \"echoloom recording\"; give an image of it, which `echoloom " +
                  "reconstruct` forms");
}

TEST(ImageFile, ABrokenImageIsRefused) {
    const TemporaryFolder folder;
    const std::string name = (folder / "image.h5").string();
    Image image = line_image();
    std::get<LineGrid>(image.grid).depth_m[2] = 0.015;
    write_image(name, image);
    EXPECT_EQ(message_of([&] { read_image(name); }),
              "2 " + name +
                  ": /grid/depth_m: does not rise from each value to the next; give the grid's coordinates in order");
    image = line_image();
    image.envelope[5] = NAN;
    write_image(name, image);
    EXPECT_EQ(message_of([&] { read_image(name); }),
              "2 " + name + ": /envelope: holds values that are not finite; give finite numbers");
    EXPECT_EQ(message_of([&] { read_image(folder / "none.h5"); }),
              "2 " + (folder / "none.h5").string() + ": no such file");
}

}  // namespace
}  // namespace echoloom::recording_tests
