#include "recon/image/png.h"

#include <stb/stb_image_write.h>
#include <zlib.h>

#include <algorithm>
#include <array>
#include <limits>
#include <new>

#include "sim/base/atomic_file.h"
#include "sim/base/error.h"

namespace echoloom {

namespace {

/// stb keeps its settings in variables shared by all threads, so they are set once, before the program starts.
[[maybe_unused]] const bool settings_are_made = [] {
    // Differences from the left, level 2: sheets a tenth smaller than unfiltered ones and as fast; level 4 is slower.
    stbi_write_force_png_filter = 1;
    stbi_write_png_compression_level = 2;
    return true;
}();

constexpr int header_end = 33;        ///< of the signature and the first chunk
constexpr int around_the_lines = 57;  ///< bytes of a PNG by stb besides the compressed lines

/// The chunk that says that the samples are sRGB, which stb leaves out: length, name, rendering intent, CRC.
constexpr std::array<unsigned char, 13> srgb_chunk{0, 0, 0, 1, 's', 'R', 'G', 'B', 0, 0xAE, 0xCE, 0x1C, 0xE9};

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

/// stb counts bytes in int, and does not look whether they fit.
bool fits_stb(const Canvas& canvas, int components) {
    const auto line = 1 + static_cast<uLong>(canvas.width()) * static_cast<uLong>(components);
    const uLong most = compressBound(line * static_cast<uLong>(canvas.height())) + around_the_lines;
    return !canvas.pixels().empty() && most <= static_cast<uLong>(std::numeric_limits<int>::max());
}

/// What stb calls, once, with the whole file. Nothing may be thrown through stb, which would not free its memory.
void collect(void* all, void* data, int size) noexcept {
    auto& bytes = *static_cast<std::vector<char>*>(all);
    const std::span file(static_cast<const unsigned char*>(data), static_cast<std::size_t>(size));
    try {
        bytes.reserve(file.size() + srgb_chunk.size());
        bytes.assign(file.begin(), file.begin() + header_end);
        bytes.insert(bytes.end(), srgb_chunk.begin(), srgb_chunk.end());
        bytes.insert(bytes.end(), file.begin() + header_end, file.end());
    } catch (const std::bad_alloc&) {
        bytes.clear();
    }
}

MachineError cannot_encode(const Canvas& canvas, const std::string& reason) {
    return MachineError("cannot encode a PNG of " + std::to_string(canvas.width()) + " x " +
                        std::to_string(canvas.height()) + " pixels: " + reason);
}

}  // namespace

std::vector<char> encode_png(const Canvas& canvas) {
    const bool colourless =
        std::ranges::all_of(canvas.pixels(), [](const Colour& pixel) { return pixel == grey(pixel.red); });
    const int components = colourless ? 1 : 3;
    if (!fits_stb(canvas, components)) {
        throw cannot_encode(canvas, "it needs a pixel at least, and less than 2 GiB");
    }
    const std::vector<std::uint8_t> values = samples(canvas, colourless);
    std::vector<char> bytes;
    if (stbi_write_png_to_func(&collect, &bytes, canvas.width(), canvas.height(), components, values.data(),
                               canvas.width() * components) == 0 ||
        bytes.empty()) {
        throw cannot_encode(canvas, "too little memory");
    }
    return bytes;
}

void write_png(const std::filesystem::path& path, const Canvas& canvas) {
    write_file(path, encode_png(canvas));
}

}  // namespace echoloom
