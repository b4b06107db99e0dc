#include <algorithm>
#include <sstream>
#include <utility>

#include "recon/image/font.h"

namespace echoloom {

namespace {

constexpr std::string_view ellipsis = "\u2026";

/// Words filled greedily into lines no wider than `width`; a word that is wider keeps a line of its own.
std::vector<std::string> wrap(const Font& font, std::string_view text, double width, double size) {
    std::vector<std::string> lines;
    std::istringstream words{std::string(text)};
    for (std::string word; words >> word;) {
        if (!lines.empty() && font.text_width(lines.back() + " " + word, size) <= width) {
            lines.back() += " " + word;
        } else {
            lines.push_back(word);
        }
    }
    return lines;
}

bool all_fit(const Font& font, const std::vector<std::string>& lines, double width, double size) {
    for (const std::string& line : lines) {
        if (font.text_width(line, size) > width) {
            return false;
        }
    }
    return true;
}

void drop_last_character(std::string& text) {
    while (!text.empty() && (static_cast<unsigned char>(text.back()) & 0xc0U) == 0x80U) {
        text.pop_back();
    }
    if (!text.empty()) {
        text.pop_back();
    }
}

/// The line shortened until it fits with an ellipsis at its end.
std::string cut(const Font& font, std::string line, double width, double size) {
    while (!line.empty() && font.text_width(line + std::string(ellipsis), size) > width) {
        drop_last_character(line);
    }
    while (line.ends_with(' ')) {
        line.pop_back();
    }
    return line + std::string(ellipsis);
}

}  // namespace

FittedText fit_text(const Font& font, std::string_view text, double width, double size, double min_size,
                    int max_lines) {
    const auto limit = static_cast<std::size_t>(max_lines);
    for (double tried = size; tried >= min_size; tried -= 1.0) {
        FittedText fitted{wrap(font, text, width, tried), tried};
        if (fitted.lines.size() <= limit && all_fit(font, fitted.lines, width, tried)) {
            return fitted;
        }
    }
    FittedText fitted{wrap(font, text, width, min_size), min_size};
    if (fitted.lines.size() > limit) {
        fitted.lines.resize(limit);
        fitted.lines.back() = cut(font, fitted.lines.back(), width, min_size);
    }
    for (std::string& line : fitted.lines) {
        if (font.text_width(line, min_size) > width) {
            line = cut(font, line, width, min_size);
        }
    }
    return fitted;
}

FittedText balanced(const Font& font, const FittedText& text) {
    std::string all;
    double widest = 0.0;
    for (const std::string& line : text.lines) {
        all += line + " ";
        widest = std::max(widest, font.text_width(line, text.size));
    }
    FittedText best = text;
    for (double width = widest; width > 0.5 * widest; width -= 0.02 * widest) {
        FittedText tried{wrap(font, all, width, text.size), text.size};
        if (tried.lines.size() > text.lines.size() || !all_fit(font, tried.lines, width, text.size)) {
            break;
        }
        best = std::move(tried);
    }
    return best;
}

}  // namespace echoloom
