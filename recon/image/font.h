#pragma once
/// Text from a TrueType font, by stb_truetype.

#include <filesystem>
#include <memory>
#include <string>
#include <string_view>
#include <vector>

#include "recon/image/canvas.h"

namespace echoloom {

class Font {
  public:
    /// Throws MachineError where the file cannot be read or is no whole TrueType font.
    explicit Font(const std::filesystem::path& file);

    /// Width in pixels of one line of UTF-8 text; `size` is the em in pixels.
    double text_width(std::string_view text, double size) const;
    /// Height of a line's box: the same for every text, from the highest accent to the lowest tail.
    int line_height(double size) const;
    /// One line drawn in a box of its width (rounded up) and line_height.
    Mask draw(std::string_view text, double size) const;

  private:
    struct State;
    std::shared_ptr<const State> state_;
};

struct Fonts {
    Font regular;
    Font bold;
};

/// DejaVu Sans where distributions keep it, or the one font $ECHOLOOM_FONT names for all text. Throws MachineError that
/// names the package to install.
Fonts load_fonts();

/// Text broken into lines to fit a width.
struct FittedText {
    std::vector<std::string> lines;
    double size = 0.0;
};

/// Keeps `size` while `max_lines` lines are enough, then shrinks down to `min_size`, then cuts with an ellipsis.
FittedText fit_text(const Font& font, std::string_view text, double width, double size, double min_size, int max_lines);

/// The same text in as many lines, of lengths as equal as its words allow.
FittedText balanced(const Font& font, const FittedText& text);

}  // namespace echoloom
