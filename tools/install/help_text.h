#pragma once
/// A help text taken apart.

#include <string>
#include <string_view>
#include <vector>

namespace echoloom {

/// A paragraph to be filled, or lines that stay as they are: those that are indented.
struct Paragraph {
    std::string text;
    bool as_it_stands = false;
};

/// "Examples:" and what follows it; the heading is empty for what comes before any.
struct HelpSection {
    std::string heading;
    std::vector<Paragraph> paragraphs;
};

/// A heading is a line of its own that ends in a colon with an indented line after it, or begins "Exit codes: ".
std::vector<HelpSection> help_sections(std::string_view text);

/// The first sentence without its full stop, as far as the first colon.
std::string in_short(std::string_view text);

/// The first line.
std::string first_line(std::string_view text);

}  // namespace echoloom
