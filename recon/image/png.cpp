#include "recon/image/png.h"

#include <png.h>

#include <algorithm>

#include "sim/base/atomic_file.h"
#include "sim/base/error.h"

namespace echoloom {

namespace {

std::vector<std::uint8_t> samples(const Canvas& canvas, bool colourless) {
    const std::span<const Colour> pixels = canvas.pixels();
    std::vector<std::uint8_t> values(pixels.size() * (colourless ? 1 : 3));
    std::uint8_t* value = values.data();
    for (const Colour& pixel : pixels) {
        *value++ = pixel.red;
        if (!colourless) {
            *value++ = pixel.green;
            *value++ = pixel.blue;
        }
    }
    return values;
}

}  // namespace

std::vector<char> encode_png(const Canvas& canvas) {
    const bool colourless =
        std::ranges::all_of(canvas.pixels(), [](const Colour& pixel) { return pixel == grey(pixel.red); });
    const std::vector<std::uint8_t> values = samples(canvas, colourless);
    png_image image{};
    image.version = PNG_IMAGE_VERSION;
    image.width = static_cast<png_uint_32>(canvas.width());
    image.height = static_cast<png_uint_32>(canvas.height());
    image.format = colourless ? PNG_FORMAT_GRAY : PNG_FORMAT_RGB;
    image.flags = PNG_IMAGE_FLAG_FAST;  // a quarter of the time, for files that are a tenth larger
    png_alloc_size_t size = PNG_IMAGE_PNG_SIZE_MAX(image);
    std::vector<char> bytes(size);
    if (png_image_write_to_memory(&image, bytes.data(), &size, 0, values.data(), 0, nullptr) == 0) {
        throw MachineError("cannot encode a PNG of " + std::to_string(canvas.width()) + " x " +
                           std::to_string(canvas.height()) + " pixels: " + image.message);
    }
    bytes.resize(size);
    return bytes;
}

void write_png(const std::filesystem::path& path, const Canvas& canvas) {
    write_file(path, encode_png(canvas));
}

}  // namespace echoloom
