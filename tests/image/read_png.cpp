#include "tests/image/read_png.h"

#include <png.h>
#include <unistd.h>

#include <fstream>
#include <iterator>

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
    png_image header{};
    header.version = PNG_IMAGE_VERSION;
    if (png_image_begin_read_from_file(&header, file.c_str()) == 0) {
        return {};
    }
    const int components = static_cast<int>(PNG_IMAGE_SAMPLE_CHANNELS(header.format));
    header.format = PNG_FORMAT_RGB;
    std::vector<std::uint8_t> samples(PNG_IMAGE_SIZE(header));
    if (png_image_finish_read(&header, nullptr, samples.data(), 0, nullptr) == 0) {
        return {};
    }
    ReadBack image{static_cast<int>(header.width), static_cast<int>(header.height), components, {}};
    for (std::size_t i = 0; i < samples.size(); i += 3) {
        image.pixels.push_back({samples[i], samples[i + 1], samples[i + 2]});
    }
    return image;
}

std::vector<char> bytes_of(const std::filesystem::path& file) {
    std::ifstream stream(file, std::ios::binary);
    return {std::istreambuf_iterator<char>(stream), {}};
}

}  // namespace echoloom
