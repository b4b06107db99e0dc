#include "recon/image/font.h"

#include <stb/stb_truetype.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <fstream>

#include "sim/base/error.h"

namespace echoloom {

struct Font::State {
    std::vector<unsigned char> bytes;
    stbtt_fontinfo info{};
    int ascent = 0;   ///< font units above the baseline
    int descent = 0;  ///< font units below it, positive
};

namespace {

const std::string remedy = "install the package fonts-dejavu-core or set ECHOLOOM_FONT to a .ttf file";

std::vector<unsigned char> read_bytes(const std::filesystem::path& file) {
    std::error_code error;
    std::vector<char> bytes(std::filesystem::is_regular_file(file, error) ? std::filesystem::file_size(file, error)
                                                                          : 0);
    std::ifstream stream(file, std::ios::binary);
    if (error || !stream.read(bytes.data(), static_cast<std::streamsize>(bytes.size()))) {
        throw MachineError(file.string() + ": the font cannot be read; " + remedy);
    }
    return {bytes.begin(), bytes.end()};
}

std::size_t big_endian(std::span<const unsigned char> bytes, std::size_t offset, std::size_t count) {
    std::size_t value = 0;
    for (std::size_t i = 0; i < count; ++i) {
        value = value << 8U | bytes[offset + i];
    }
    return value;
}

/// stb_truetype trusts its input: a cut file would be read past its end.
bool tables_lie_inside(std::span<const unsigned char> bytes) {
    constexpr std::size_t header = 12;
    constexpr std::size_t entry = 16;
    if (bytes.size() < header) {
        return false;
    }
    const std::size_t tables = big_endian(bytes, 4, 2);
    if (bytes.size() < header + entry * tables) {
        return false;
    }
    for (std::size_t i = 0; i < tables; ++i) {
        const std::size_t at = header + entry * i;
        if (big_endian(bytes, at + 8, 4) + big_endian(bytes, at + 12, 4) > bytes.size()) {
            return false;
        }
    }
    return true;
}

/// Code points of UTF-8 text; U+FFFD for what is not UTF-8, a space for control characters.
std::vector<int> code_points(std::string_view text) {
    std::vector<int> points;
    for (std::size_t i = 0; i < text.size();) {
        const auto lead = static_cast<unsigned char>(text[i++]);
        const int follow = lead < 0x80 ? 0 : lead >= 0xf0 ? 3 : lead >= 0xe0 ? 2 : lead >= 0xc0 ? 1 : -1;
        int point = follow < 0 ? 0xfffd : follow == 0 ? lead : lead & (0x3f >> follow);
        for (int k = 0; k < follow; ++k) {
            if (i >= text.size() || (static_cast<unsigned char>(text[i]) & 0xc0U) != 0x80U) {
                point = 0xfffd;
                break;
            }
            point = point << 6 | (static_cast<unsigned char>(text[i++]) & 0x3f);
        }
        points.push_back(point < 0x20 ? ' ' : point);
    }
    return points;
}

/// Where each glyph starts along the line, and at the end the line's width; in font units.
std::vector<int> pen_positions(const stbtt_fontinfo& info, std::span<const int> points) {
    std::vector<int> pens;
    int pen = 0;
    for (std::size_t i = 0; i < points.size(); ++i) {
        pens.push_back(pen);
        int advance = 0;
        int bearing = 0;
        stbtt_GetCodepointHMetrics(&info, points[i], &advance, &bearing);
        pen += advance;
        if (i + 1 < points.size()) {
            pen += stbtt_GetCodepointKernAdvance(&info, points[i], points[i + 1]);
        }
    }
    pens.push_back(pen);
    return pens;
}

/// One glyph added to the line's mask; `pen` and `baseline` in pixels.
void add_glyph(const stbtt_fontinfo& info, int point, float scale, float pen, int baseline, Mask& mask) {
    const float whole = std::floor(pen);
    int left = 0;
    int top = 0;
    int right = 0;
    int bottom = 0;
    stbtt_GetCodepointBitmapBoxSubpixel(&info, point, scale, scale, pen - whole, 0.0F, &left, &top, &right, &bottom);
    const int width = right - left;
    const int height = bottom - top;
    if (width <= 0 || height <= 0) {
        return;
    }
    std::vector<std::uint8_t> glyph(static_cast<std::size_t>(width) * static_cast<std::size_t>(height));
    stbtt_MakeCodepointBitmapSubpixel(&info, glyph.data(), width, height, width, scale, scale, pen - whole, 0.0F,
                                      point);
    for (int row = 0; row < height; ++row) {
        for (int column = 0; column < width; ++column) {
            const int x = static_cast<int>(whole) + left + column;
            const int y = baseline + top + row;
            if (x >= 0 && x < mask.width && y >= 0 && y < mask.height) {
                std::uint8_t& cell = mask.coverage[static_cast<std::size_t>(y * mask.width + x)];
                cell = std::max(cell, glyph[static_cast<std::size_t>(row * width + column)]);
            }
        }
    }
}

}  // namespace

Font::Font(const std::filesystem::path& file) {
    auto state = std::make_shared<State>();
    state->bytes = read_bytes(file);
    if (!tables_lie_inside(state->bytes) || stbtt_InitFont(&state->info, state->bytes.data(), 0) == 0) {
        throw MachineError(file.string() + ": not a whole TrueType font; " + remedy);
    }
    int gap = 0;
    stbtt_GetFontVMetrics(&state->info, &state->ascent, &state->descent, &gap);
    state->descent = -state->descent;
    state_ = std::move(state);
}

double Font::text_width(std::string_view text, double size) const {
    const float scale = stbtt_ScaleForMappingEmToPixels(&state_->info, static_cast<float>(size));
    return static_cast<double>(scale) * pen_positions(state_->info, code_points(text)).back();
}

int Font::line_height(double size) const {
    const float scale = stbtt_ScaleForMappingEmToPixels(&state_->info, static_cast<float>(size));
    return static_cast<int>(std::ceil(scale * static_cast<float>(state_->ascent)) +
                            std::ceil(scale * static_cast<float>(state_->descent)));
}

Mask Font::draw(std::string_view text, double size) const {
    const float scale = stbtt_ScaleForMappingEmToPixels(&state_->info, static_cast<float>(size));
    const std::vector<int> points = code_points(text);
    const std::vector<int> pens = pen_positions(state_->info, points);
    Mask mask{static_cast<int>(std::ceil(text_width(text, size))), line_height(size), {}};
    mask.coverage.resize(static_cast<std::size_t>(mask.width) * static_cast<std::size_t>(mask.height));
    const int baseline = static_cast<int>(std::ceil(scale * static_cast<float>(state_->ascent)));
    for (std::size_t i = 0; i < points.size(); ++i) {
        add_glyph(state_->info, points[i], scale, scale * static_cast<float>(pens[i]), baseline, mask);
    }
    return mask;
}

Fonts load_fonts() {
    if (const char* chosen = std::getenv("ECHOLOOM_FONT"); chosen != nullptr && *chosen != '\0') {
        const Font font{chosen};
        return {font, font};
    }
    // Debian and Ubuntu, Fedora (new and old), Arch.
    std::string looked;
    for (const std::filesystem::path folder : {"/usr/share/fonts/truetype/dejavu", "/usr/share/fonts/dejavu-sans-fonts",
                                               "/usr/share/fonts/dejavu", "/usr/share/fonts/TTF"}) {
        const std::filesystem::path regular = folder / "DejaVuSans.ttf";
        const std::filesystem::path bold = folder / "DejaVuSans-Bold.ttf";
        std::error_code ignored;
        if (std::filesystem::exists(regular, ignored) && std::filesystem::exists(bold, ignored)) {
            return {Font{regular}, Font{bold}};
        }
        looked += (looked.empty() ? "" : ", ") + folder.string();
    }
    throw MachineError("the font DejaVu Sans is missing; looked in " + looked + "; " + remedy);
}

}  // namespace echoloom
