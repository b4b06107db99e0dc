#pragma once
/// Canvases as an animation that every browser and slide program plays, by giflib.

#include <filesystem>
#include <memory>
#include <string>

#include "recon/image/canvas.h"

namespace echoloom {

/// Frame by frame into memory, so that only one canvas need exist at a time. Colours are those of our pages: 200 greys,
/// and one hue in a few strengths over them; others turn into their nearest. The same canvases give the same bytes.
class Animation {
  public:
    /// `hundredths`: how long a frame stays, in hundredths of a second. It runs for ever.
    Animation(int width, int height, Colour hue, int hundredths);
    ~Animation();
    Animation(Animation&&) noexcept;
    Animation& operator=(Animation&&) noexcept;

    /// Throws MachineError. Stays `times` as long as the others.
    void add(const Canvas& canvas, int times = 1);
    /// Throws MachineError; nothing is left under the final name then.
    void write(const std::filesystem::path& path);

  private:
    struct State;
    std::unique_ptr<State> state_;
};

}  // namespace echoloom
