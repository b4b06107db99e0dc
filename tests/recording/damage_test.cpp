/// An everyday run damages a sample of the places; the long one, built with DAMAGE_EVERYWHERE, takes all.

#include "tests/recording/damage.h"

#include <gtest/gtest.h>

#include <iostream>

#include "recon/image/image.h"
#include "tests/base/temporary_folder.h"
#include "tests/recording/sample.h"

namespace echoloom::recording_tests {
namespace {

#ifdef DAMAGE_EVERYWHERE
constexpr bool everywhere = true;
#else
constexpr bool everywhere = false;
#endif
constexpr std::size_t places = 300;

std::size_t step_for(const std::string& file) {
    return everywhere ? 1 : std::filesystem::file_size(file) / places;
}

std::string read_recording(const std::string& file) {
    return fingerprint(std::filesystem::path(file));
}

std::string read_whole_image(const std::string& file) {
    const Image image = read_image(file);
    const std::vector<std::vector<float>> samples = {image.envelope, image.real, image.imaginary};
    const auto& grid = std::get<CartesianGrid>(image.grid);
    std::string rest = recipe_toml(image.recipe) + image.recipe.name + image.recipe.source;
    for (const auto* axis : {&grid.x_m, &grid.depth_m}) {
        rest.append(reinterpret_cast<const char*>(axis->data()), axis->size() * sizeof(double));
    }
    return fingerprint(image.recording, samples) + rest + std::to_string(image.sound_speed_m_s);
}

std::string small_recording(const TemporaryFolder& folder) {
    write(small_sample(), folder / "whole.h5");
    return (folder / "whole.h5").string();
}

std::string small_image(const TemporaryFolder& folder) {
    Image image;
    image.grid = CartesianGrid{{-1e-3, 0.0, 1e-3}, {0.01, 0.02}};
    image.columns = 3;
    image.depths = 2;
    image.envelope = {0.5F, 1.0F, 2.0F, 3.0F, 4.0F, 5.0F};
    image.real = image.envelope;
    image.imaginary = image.envelope;
    image.recipe.name = "small";
    image.sound_speed_m_s = 1540.0;
    image.recording = small_sample().info;
    write_image(folder / "whole.h5", image);
    return (folder / "whole.h5").string();
}

void expect_harmless(const DamageCount& count, const std::string& file) {
    testing::Test::RecordProperty("refused", count.refused);
    testing::Test::RecordProperty("unharmed", count.unharmed);
    std::cout << std::filesystem::file_size(file) << " bytes: " << count.refused << " refused, " << count.unharmed
              << " unharmed\n";
    EXPECT_EQ(count.wrong, 0) << count.first_wrong;
    EXPECT_EQ(count.machine, 0) << count.first_wrong;
    EXPECT_GT(count.refused, count.unharmed);
}

TEST(Damage, AFlippedBitInARecordingIsNoticed) {
    const TemporaryFolder folder;
    const std::string file = small_recording(folder);
    expect_harmless(flip_bits(file, (folder / "damaged.h5").string(), step_for(file), read_recording), file);
}

TEST(Damage, AFlippedBitInARecordingOfARotatingHeadIsNoticed) {
    const TemporaryFolder folder;
    write(swept_sample(), folder / "whole.h5");
    const std::string file = (folder / "whole.h5").string();
    expect_harmless(flip_bits(file, (folder / "damaged.h5").string(), step_for(file), read_recording), file);
}

TEST(Damage, ARecordingCutShortIsRefused) {
    const TemporaryFolder folder;
    const std::string file = small_recording(folder);
    const DamageCount count = cut_short(file, (folder / "cut.h5").string(), step_for(file), read_recording);
    expect_harmless(count, file);
    EXPECT_EQ(count.unharmed, 0);
}

TEST(Damage, AFlippedBitInAnImageIsNoticed) {
    const TemporaryFolder folder;
    const std::string file = small_image(folder);
    expect_harmless(flip_bits(file, (folder / "damaged.h5").string(), step_for(file), read_whole_image), file);
}

TEST(Damage, AnImageCutShortIsRefused) {
    const TemporaryFolder folder;
    const std::string file = small_image(folder);
    const DamageCount count = cut_short(file, (folder / "cut.h5").string(), step_for(file), read_whole_image);
    expect_harmless(count, file);
    EXPECT_EQ(count.unharmed, 0);
}

}  // namespace
}  // namespace echoloom::recording_tests
