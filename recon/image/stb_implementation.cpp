// The one place that compiles the bodies of stb_truetype and stb_image_write. Debian keeps them in the system's include
// folder, so that our warnings do not apply to them.
#include <zlib.h>

#include <cstdlib>
#include <memory>

namespace {

/// In place of stb's own compressor, which takes four times as long. Memory of malloc(), or null, as stb wants it.
unsigned char* compress_with_zlib(const unsigned char* bytes, int count, int* compressed_count, int level) {
    const auto source_count = static_cast<uLong>(count);
    uLongf size = compressBound(source_count);
    std::unique_ptr<unsigned char, decltype(&std::free)> compressed(
        static_cast<unsigned char*>(std::malloc(size)),  // NOLINT(cppcoreguidelines-no-malloc): stb frees it so
        &std::free);
    if (!compressed || compress2(compressed.get(), &size, bytes, source_count, level) != Z_OK) {
        return nullptr;
    }
    *compressed_count = static_cast<int>(size);
    return compressed.release();
}

}  // namespace

#define STB_TRUETYPE_IMPLEMENTATION
#include <stb/stb_truetype.h>

#define STBIW_ZLIB_COMPRESS compress_with_zlib
#define STB_IMAGE_WRITE_IMPLEMENTATION
#include <stb/stb_image_write.h>
