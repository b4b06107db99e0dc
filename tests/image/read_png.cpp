#include "tests/image/read_png.h"

#define STB_IMAGE_IMPLEMENTATION
#define STB_IMAGE_STATIC
#define STBI_ONLY_PNG
#include <stb/stb_image.h>
#include <unistd.h>

#include <fstream>
#include <iterator>
#include <memory>

namespace echoloom {

namespace {

struct TemporaryFolder {
    std::filesystem::path path =
        std::filesystem::temp_directory_path() / ("echoloom_image_test_" + std::to_string(getpid()));
    TemporaryFolder() { std::filesystem::create_directories(path); }
    ~TemporaryFolder() {
        std::error_code ignored;
        std::filesystem::remove_all(path, ignored);
    }
    TemporaryFolder(const TemporaryFolder&) = delete;
    TemporaryFolder& operator=(const TemporaryFolder&) = delete;
};

}  // namespace

std::filesystem::path temporary(const std::string& name) {
    static const TemporaryFolder folder;
    return folder.path / name;
}

ReadBack read_png(const std::filesystem::path& file) {
    ReadBack image;
    const std::unique_ptr<stbi_uc, decltype(&stbi_image_free)> data(
        stbi_load(file.c_str(), &image.width, &image.height, &image.components, 3), &stbi_image_free);
    if (!data) {
        return {};
    }
    const auto count = static_cast<std::size_t>(image.width) * static_cast<std::size_t>(image.height);
    for (std::size_t i = 0; i < count; ++i) {
        image.pixels.push_back({data.get()[3 * i], data.get()[3 * i + 1], data.get()[3 * i + 2]});
    }
    return image;
}

std::vector<char> bytes_of(const std::filesystem::path& file) {
    std::ifstream stream(file, std::ios::binary);
    return {std::istreambuf_iterator<char>(stream), {}};
}

}  // namespace echoloom
