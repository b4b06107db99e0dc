#include "tools/install/help_text.h"

#include <algorithm>
#include <sstream>

namespace echoloom {

namespace {

constexpr std::string_view exit_codes = "Exit codes:";

bool is_indented(const std::string& line) {
    return line.starts_with(' ');
}

std::vector<std::string> lines_of(std::string_view text) {
    std::vector<std::string> lines;
    std::istringstream stream{std::string(text)};
    for (std::string line; std::getline(stream, line);) {
        lines.push_back(line);
    }
    return lines;
}

/// Adds a line to the paragraph it belongs to, which begins anew after an empty line and where the indent changes.
void add_line(const std::string& line, bool after_break, std::vector<Paragraph>& paragraphs) {
    const bool as_it_stands = is_indented(line);
    if (after_break || paragraphs.empty() || paragraphs.back().as_it_stands != as_it_stands) {
        paragraphs.push_back({line, as_it_stands});
    } else {
        paragraphs.back().text += '\n' + line;
    }
}

}  // namespace

std::vector<HelpSection> help_sections(std::string_view text) {
    std::vector<HelpSection> sections(1);
    const std::vector<std::string> lines = lines_of(text);
    bool after_break = true;
    for (std::size_t i = 0; i < lines.size(); ++i) {
        std::string line = lines[i];
        if (line.find_first_not_of(' ') == std::string::npos) {
            after_break = true;
            continue;
        }
        // "... says more of each. Exit codes: 0 done, ..."
        const std::size_t codes = line.find(exit_codes);
        if (codes != std::string::npos) {
            if (codes > 0) {
                add_line(line.substr(0, line.find_last_not_of(' ', codes - 1) + 1), after_break,
                         sections.back().paragraphs);
            }
            sections.push_back({"Exit status", {}});
            line.erase(0, codes + exit_codes.size());
            line.erase(0, line.find_first_not_of(' '));
            after_break = true;
            if (line.empty()) {
                continue;
            }
        } else if (!is_indented(line) && line.ends_with(':') && i + 1 < lines.size() && is_indented(lines[i + 1])) {
            sections.push_back({line.substr(0, line.size() - 1), {}});
            after_break = true;
            continue;
        } else if (after_break && !is_indented(line) && !sections.back().heading.empty()) {
            sections.emplace_back();  // a paragraph after a headed one is no part of it
        }
        add_line(line, after_break, sections.back().paragraphs);
        after_break = false;
    }
    return sections;
}

std::string first_line(std::string_view text) {
    return std::string(text.substr(0, text.find('\n')));
}

std::string in_short(std::string_view text) {
    std::string words(text.substr(0, text.find("\n\n")));
    std::ranges::replace(words, '\n', ' ');
    words = words.substr(0, words.find(": "));
    words = words.substr(0, words.find(". "));
    if (words.ends_with('.')) {
        words.pop_back();
    }
    return words;
}

}  // namespace echoloom
