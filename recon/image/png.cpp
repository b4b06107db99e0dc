#include "recon/image/png.h"

#include <stb/stb_image_write.h>

#include <algorithm>

#include "sim/base/atomic_file.h"
#include "sim/base/error.h"

namespace echoloom {

namespace {

void append(void* context, void* data, int size) {
    auto& bytes = *static_cast<std::vector<char>*>(context);
    const char* first = static_cast<const char*>(data);
    bytes.insert(bytes.end(), first, first + size);
}

std::vector<std::uint8_t> samples(const Canvas& canvas, bool colourless) {
    std::vector<std::uint8_t> values;
    values.reserve(canvas.pixels().size() * (colourless ? 1 : 3));
    for (const Colour& pixel : canvas.pixels()) {
        values.push_back(pixel.red);
        if (!colourless) {
            values.push_back(pixel.green);
            values.push_back(pixel.blue);
        }
    }
    return values;
}

}  // namespace

std::vector<char> encode_png(const Canvas& canvas) {
    const bool colourless =
        std::ranges::all_of(canvas.pixels(), [](const Colour& pixel) { return pixel == grey(pixel.red); });
    const std::vector<std::uint8_t> values = samples(canvas, colourless);
    const int components = colourless ? 1 : 3;
    std::vector<char> bytes;
    if (stbi_write_png_to_func(append, &bytes, canvas.width(), canvas.height(), components, values.data(),
                               canvas.width() * components) == 0) {
        throw MachineError("too little memory to encode a PNG of " + std::to_string(canvas.width()) + " x " +
                           std::to_string(canvas.height()) + " pixels");
    }
    return bytes;
}

void write_png(const std::filesystem::path& path, const Canvas& canvas) {
    write_file(path, encode_png(canvas));
}

}  // namespace echoloom
