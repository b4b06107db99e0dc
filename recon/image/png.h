#pragma once
/// A canvas as a PNG file, by stb_image_write and zlib.

#include <filesystem>
#include <vector>

#include "recon/image/canvas.h"

namespace echoloom {

/// The bytes of a PNG: 8-bit grey where no pixel has colour, else 8-bit RGB. The same canvas gives the same bytes.
std::vector<char> encode_png(const Canvas& canvas);

/// Throws MachineError; nothing is left under the final name then.
void write_png(const std::filesystem::path& path, const Canvas& canvas);

}  // namespace echoloom
