#pragma once
/// Each note stands once below the table; letters in the table refer to it.

#include <algorithm>
#include <cstddef>
#include <string>
#include <vector>

namespace echoloom {

class NoteLetters {
  public:
    char letter(const std::string& note) {
        const auto known = std::find(notes_.begin(), notes_.end(), note);
        if (known == notes_.end()) {
            notes_.push_back(note);
            return mark(notes_.size() - 1);
        }
        return mark(static_cast<std::size_t>(known - notes_.begin()));
    }
    std::string text() const {
        std::string text;
        for (std::size_t n = 0; n < notes_.size(); ++n) {
            text += "    " + std::string(1, mark(n)) + "  " + notes_[n] + "\n";
        }
        return text;
    }

  private:
    static char mark(std::size_t n) { return n < 26 ? static_cast<char>('a' + n) : '*'; }
    std::vector<std::string> notes_;
};

}  // namespace echoloom
