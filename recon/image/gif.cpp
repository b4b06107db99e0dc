#include "recon/image/gif.h"

#include <gif_lib.h>

#include <algorithm>
#include <array>
#include <map>
#include <tuple>
#include <utility>

#include "sim/base/atomic_file.h"
#include "sim/base/error.h"

namespace echoloom {

namespace {

constexpr int greys = 200;
constexpr int strengths = 5;     ///< of the hue over a grey
constexpr int under_greys = 11;  ///< that it may lie over

/// 200 greys, then the hue in strengths of 1/5 to 5/5 over 11 greys; the last entry is left over.
std::array<Colour, 256> palette_of(Colour hue) {
    std::array<Colour, 256> palette{};
    for (int i = 0; i < greys; ++i) {
        palette[static_cast<std::size_t>(i)] = grey(static_cast<std::uint8_t>(255 * i / (greys - 1)));
    }
    std::size_t next = greys;
    for (int strength = 1; strength <= strengths; ++strength) {
        for (int under = 0; under < under_greys; ++under) {
            const auto mixed = [&](std::uint8_t of_hue) {
                const int level = 255 * under / (under_greys - 1);
                return static_cast<std::uint8_t>((strength * of_hue + (strengths - strength) * level) / strengths);
            };
            palette[next++] = {mixed(hue.red), mixed(hue.green), mixed(hue.blue)};
        }
    }
    return palette;
}

int collect(GifFileType* file, const GifByteType* bytes, int count) {
    auto& all = *static_cast<std::string*>(file->UserData);
    all.append(reinterpret_cast<const char*>(bytes), static_cast<std::size_t>(count));
    return count;
}

/// Which way giflib was asked, for its reason.
void check(int result, int error, const char* what) {
    if (result != GIF_OK) {
        const char* const reason = GifErrorString(error);
        throw MachineError(std::string("an animation's ") + what +
                           " could not be written: " + (reason != nullptr ? reason : "giflib gave no reason"));
    }
}

}  // namespace

struct Animation::State {
    int width, height, hundredths;
    std::array<Colour, 256> palette;
    std::map<std::tuple<int, int, int>, GifPixelType> nearest;
    std::string bytes;
    GifFileType* file = nullptr;
    std::vector<GifPixelType> before;  ///< the last frame; empty before the first

    ~State() {
        if (file != nullptr) {
            EGifCloseFile(file, nullptr);
        }
    }

    GifPixelType entry(Colour colour) {
        const auto [place, fresh] = nearest.try_emplace({colour.red, colour.green, colour.blue}, GifPixelType{0});
        if (fresh) {
            int least = 1 << 30;
            for (std::size_t i = 0; i + 1 < palette.size(); ++i) {
                const int red = palette[i].red - colour.red;
                const int green = palette[i].green - colour.green;
                const int blue = palette[i].blue - colour.blue;
                if (const int off = red * red + green * green + blue * blue; off < least) {
                    least = off;
                    place->second = static_cast<GifPixelType>(i);
                }
            }
        }
        return place->second;
    }

    void put_loop() {
        constexpr std::array<GifByteType, 3> for_ever{1, 0, 0};
        check(EGifPutExtensionLeader(file, APPLICATION_EXT_FUNC_CODE), file->Error, "loop");
        check(EGifPutExtensionBlock(file, 11, "NETSCAPE2.0"), file->Error, "loop");
        check(EGifPutExtensionBlock(file, for_ever.size(), for_ever.data()), file->Error, "loop");
        check(EGifPutExtensionTrailer(file), file->Error, "loop");
    }

    void put_delay(int times) {
        const GraphicsControlBlock control{DISPOSE_DO_NOT, false, hundredths * times, NO_TRANSPARENT_COLOR};
        std::array<GifByteType, 4> extension{};
        EGifGCBToExtension(&control, extension.data());
        check(EGifPutExtension(file, GRAPHICS_EXT_FUNC_CODE, extension.size(), extension.data()), file->Error, "frame");
    }

    /// The rectangle that differs from the frame before; at least a pixel.
    Rect changed(const std::vector<GifPixelType>& now) const {
        if (before.empty()) {
            return {0, 0, width, height};
        }
        int left = width;
        int right = 0;
        int top = height;
        int bottom = 0;
        for (int y = 0; y < height; ++y) {
            for (int x = 0; x < width; ++x) {
                const auto at =
                    static_cast<std::size_t>(y) * static_cast<std::size_t>(width) + static_cast<std::size_t>(x);
                if (now[at] != before[at]) {
                    left = std::min(left, x);
                    right = std::max(right, x + 1);
                    top = std::min(top, y);
                    bottom = std::max(bottom, y + 1);
                }
            }
        }
        return right > left ? Rect{left, top, right - left, bottom - top} : Rect{0, 0, 1, 1};
    }
};

Animation::Animation(int width, int height, Colour hue, int hundredths)
    : state_(std::make_unique<State>(State{width, height, hundredths, palette_of(hue), {}, {}, nullptr, {}})) {
    int error = 0;
    state_->file = EGifOpen(&state_->bytes, collect, &error);
    check(state_->file != nullptr ? GIF_OK : GIF_ERROR, error, "file");
    EGifSetGifVersion(state_->file, true);
    std::array<GifColorType, 256> colours{};
    std::ranges::transform(state_->palette, colours.begin(), [](Colour colour) {
        return GifColorType{colour.red, colour.green, colour.blue};
    });
    ColorMapObject map{static_cast<int>(colours.size()), 8, false, colours.data()};
    check(EGifPutScreenDesc(state_->file, width, height, 8, 0, &map), state_->file->Error, "size");
    state_->put_loop();
}

Animation::~Animation() = default;
Animation::Animation(Animation&&) noexcept = default;
Animation& Animation::operator=(Animation&&) noexcept = default;

void Animation::add(const Canvas& canvas, int times) {
    State& state = *state_;
    std::vector<GifPixelType> now;
    now.reserve(canvas.pixels().size());
    for (const Colour colour : canvas.pixels()) {
        now.push_back(state.entry(colour));
    }
    const Rect part = state.changed(now);
    state.put_delay(times);
    check(EGifPutImageDesc(state.file, part.x, part.y, part.width, part.height, false, nullptr), state.file->Error,
          "frame");
    for (int y = part.y; y < part.bottom(); ++y) {
        GifPixelType* const row = now.data() + static_cast<std::ptrdiff_t>(y) * state.width + part.x;
        check(EGifPutLine(state.file, row, part.width), state.file->Error, "frame");
    }
    state.before = std::move(now);
}

void Animation::write(const std::filesystem::path& path) {
    int error = 0;
    const int closed = EGifCloseFile(std::exchange(state_->file, nullptr), &error);
    check(closed, error, "end");
    write_file(path, state_->bytes);
}

}  // namespace echoloom
