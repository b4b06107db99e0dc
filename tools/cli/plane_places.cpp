#include "tools/cli/plane_places.h"

#include <algorithm>
#include <charconv>
#include <cmath>
#include <optional>
#include <string_view>
#include <utility>

#include "sim/base/error.h"
#include "sim/base/text.h"

namespace echoloom {

namespace {

constexpr double mm = 1e-3;

/// An option, and how its value is written.
struct Form {
    std::string option;
    std::string words;    ///< "X,DEPTH"
    std::string example;  ///< "0,30"
    std::size_t count() const { return static_cast<std::size_t>(std::ranges::count(words, ',')) + 1; }
};
const Form point_form{"--point", "X,DEPTH", "0,30"};
const Form disc_form{"--disc", "X,DEPTH,DIAMETER", "4,30,5"};
Form box_form(const std::string& option) {
    return {option, "X1,X2,DEPTH1,DEPTH2", "-10,10,20,60"};
}

std::optional<double> number(std::string_view word) {
    double value = 0.0;
    const auto [end, problem] = std::from_chars(word.data(), word.data() + word.size(), value);
    const bool whole = problem == std::errc() && end == word.data() + word.size() && std::isfinite(value);
    return whole ? std::optional(value) : std::nullopt;
}

std::vector<std::string_view> split(std::string_view text, std::string_view separators) {
    std::vector<std::string_view> words;
    while (true) {
        const std::size_t end = text.find_first_of(separators);
        words.push_back(text.substr(0, end));
        if (end == std::string_view::npos) {
            return words;
        }
        text.remove_prefix(end + 1);
    }
}

/// "4cm" is 40, "3,5" is 3.5: what a person may write for a number of millimetres.
std::optional<double> loose_number(std::string_view word) {
    double unit = 1.0;
    for (const auto& [name, in_mm] : {std::pair<std::string_view, double>{"mm", 1.0}, {"cm", 10.0}, {"m", 1000.0}}) {
        if (word.ends_with(name)) {
            unit = in_mm;
            word.remove_suffix(name.size());
            break;
        }
    }
    std::string digits(word);
    std::ranges::replace(digits, ',', '.');
    const auto value = number(digits);
    return value ? std::optional(*value * unit) : std::nullopt;
}

/// The numbers as they should have been written, where it is clear which they are.
std::optional<std::string> mended(std::string_view text, std::size_t count) {
    // Semicolons or spaces part the numbers, and a comma is then a decimal one; else commas do.
    std::string spaced(text);
    for (std::size_t at = 0; (at = spaced.find(", ", at)) != std::string::npos;) {
        spaced.replace(at, 2, ";");
    }
    const bool other_marks = spaced.find_first_of("; \t") != std::string::npos;
    std::vector<std::string_view> words = split(spaced, other_marks ? "; \t" : ",");
    std::erase(words, std::string_view());
    std::vector<std::string> joined(words.begin(), words.end());
    if (!other_marks && joined.size() == 2 * count) {  // 3,5,40,2
        for (std::size_t i = 0; i < count; ++i) {
            joined[i] = joined[2 * i] + ',' + joined[2 * i + 1];
        }
        joined.resize(count);
    }
    std::string result;
    for (const std::string& word : joined) {
        const auto value = loose_number(word);
        if (!value) {
            return std::nullopt;
        }
        result += (result.empty() ? "" : ",") + plain(*value);
    }
    return joined.size() == count ? std::optional(result) : std::nullopt;
}

/// As many numbers as the form has, in metres.
std::vector<double> numbers(const Form& form, const std::string& text) {
    std::vector<double> values;
    for (const std::string_view word : split(text, ",")) {
        if (const auto value = number(word)) {
            values.push_back(*value * mm);
        } else {
            values.clear();
            break;
        }
    }
    if (values.size() != form.count()) {
        const auto meant = mended(text, form.count());
        throw InputError({form.option}, "'" + text + "' is not " + form.words +
                                            ", numbers in mm with commas between them, no spaces and a decimal "
                                            "point; " +
                                            (meant ? "write " : "for example ") + form.option + ' ' +
                                            meant.value_or(form.example));
    }
    return values;
}

PlaneBox read_box(const std::string& option, const std::string& text) {
    const Form form = box_form(option);
    const auto values = numbers(form, text);
    if (!(values[0] < values[1]) || !(values[2] < values[3])) {
        throw InputError({option}, "'" + text + "' is empty; give " + form.words +
                                       " with X1 less than X2 and DEPTH1 less than DEPTH2, for example " + option +
                                       ' ' + form.example);
    }
    return {values[0], values[1], values[2], values[3]};
}

}  // namespace

Vec3 read_point(const std::string& text) {
    const auto values = numbers(point_form, text);
    return {values[0], 0.0, values[1]};
}

Aim read_aim(const std::vector<std::string>& points, const std::string& box, const std::vector<std::string>& discs,
             const std::vector<std::string>& speckle) {
    Aim aim;
    for (const std::string& text : points) {
        aim.points.push_back(read_point(text));
    }
    if (!box.empty()) {
        aim.box = read_box("--box", box);
        if (!aim.points.empty()) {
            throw InputError({"--box"}, "finds points by itself; leave out either it or --point");
        }
    }
    for (const std::string& text : discs) {
        const auto values = numbers(disc_form, text);
        if (!(values[2] > 0.0)) {
            throw InputError({"--disc"}, "'" + text + "' has no diameter; give more than 0, for example --disc 4,30,5");
        }
        aim.discs.push_back({values[0], values[1], values[2]});
    }
    for (const std::string& text : speckle) {
        aim.speckle.push_back(read_box("--speckle", text));
    }
    return aim;
}

}  // namespace echoloom
