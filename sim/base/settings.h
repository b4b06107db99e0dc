#pragma once
/// What a person writes in TOML, read once into plain structs. A Settings object is a table that remembers which keys
/// were asked for, so that finish() can refuse every other key and suggest the nearest known one.

#include <filesystem>
#include <initializer_list>
#include <limits>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "sim/base/error.h"

namespace echoloom {

/// Bounds a number must keep; NaN never passes. Infinity passes only where the bound is infinite and inclusive.
struct Range {
    double least = -std::numeric_limits<double>::infinity();
    double most = std::numeric_limits<double>::infinity();
    bool min_open = false;  ///< true: the least value itself is refused
    bool allow_infinite = false;
};
inline constexpr double no_limit = std::numeric_limits<double>::infinity();
/// Greater than 0, at most `most`.
constexpr Range positive(double most = no_limit) {
    return {0.0, most, true, false};
}
constexpr Range between(double least, double most) {
    return {least, most, false, false};
}

/// One `--set key=value`: a dotted path into the table and a TOML value (a bare word counts as a string).
struct Override {
    std::string key;
    std::string value;
    std::string owner = {};  ///< what stands before the key on the command line, as "scan."; only messages say it
};

class Settings {
  public:
    /// Reads and parses a file. Throws InputError (with file:line) for bad TOML or where there is no such
    /// file, MachineError where it cannot be read.
    static Settings from_file(const std::filesystem::path& path, std::span<const Override> overrides = {});
    /// The same from text already in memory; `name` stands for the file in messages.
    static Settings from_text(std::string text, std::string name, std::span<const Override> overrides = {});

    bool has(std::string_view key) const;  ///< marks the key as known

    double number(std::string_view key, Range range = {});
    double number_or(std::string_view key, double fallback, Range range = {});
    std::optional<double> number_if(std::string_view key, Range range = {});
    long long integer(std::string_view key, long long least, long long most);
    long long integer_or(std::string_view key, long long fallback, long long least, long long most);
    bool flag_or(std::string_view key, bool fallback);
    std::string text(std::string_view key);
    std::string text_or(std::string_view key, std::string fallback);
    /// One of the allowed names; the error lists them and suggests the nearest.
    std::string one_of(std::string_view key, std::span<const std::string_view> allowed);
    std::string one_of_or(std::string_view key, std::string_view fallback, std::span<const std::string_view> allowed);
    /// A list of numbers (a single number counts as a list of one); `count` 0 takes any length.
    std::vector<double> numbers(std::string_view key, Range range = {}, std::size_t count = 0);
    std::vector<double> numbers_or(std::string_view key, std::vector<double> fallback, Range range = {},
                                   std::size_t count = 0);

    Settings table(std::string_view key);                    ///< required sub-table
    std::optional<Settings> table_if(std::string_view key);  ///< optional sub-table
    std::vector<Settings> tables(std::string_view key);      ///< [[key]] entries; empty where absent

    Place place(std::string_view key) const;  ///< file, line and dotted key, for errors found later
    [[noreturn]] void fail(std::string_view key, const std::string& what) const;

    /// Refuses every key, in this table and all below it, that nobody asked for.
    void finish() const;

    /// The exact text that was read, with a comment line for each override; goes into the files we write.
    const std::string& source_text() const;
    std::filesystem::path file() const;

  private:
    struct Document;
    struct Node;
    Settings(std::shared_ptr<Document> document, std::shared_ptr<Node> node);
    [[noreturn]] void fail_missing(std::string_view key, const std::string& wanted) const;
    [[noreturn]] void fail_unknown(std::string_view key, std::span<const std::string> candidates) const;
    std::shared_ptr<Document> document_;
    std::shared_ptr<Node> node_;
};

}  // namespace echoloom
