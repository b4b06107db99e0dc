#pragma once
/// Files the tests write: where they go, and a PNG read back by a library that did not write it (libpng).

#include <cstdint>
#include <filesystem>
#include <string>
#include <vector>

#include "recon/image/canvas.h"

namespace echoloom {

struct ReadBack {
    int width = 0, height = 0;
    int components = 0;  ///< stored in the file: 1 grey, 3 RGB
    std::vector<Colour> pixels;
    Colour at(int x, int y) const { return pixels[static_cast<std::size_t>(y * width + x)]; }
};

/// Width 0 where the file cannot be read.
ReadBack read_png(const std::filesystem::path& file);

/// A name in a folder of this process's own, which goes when the process ends.
std::filesystem::path temporary(const std::string& name);

std::vector<char> bytes_of(const std::filesystem::path& file);

}  // namespace echoloom
