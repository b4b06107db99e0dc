#pragma once
/// Where words go: results to standard output, messages to standard error; what was written; and what is checked before
/// long work.

#include <filesystem>
#include <map>
#include <nlohmann/json.hpp>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace echoloom {

/// Prints a result. Throws MachineError where standard output does not take it.
void print(std::string_view text);

/// Prints a line for the person who waits, unless `quiet`.
void note(const std::string& line, bool quiet = false);

/// The files that a command writes as its result: printed a line each as they come, or with --json named at the end by
/// one object, {"written": [...]} and the facts beside.
class Results {
  public:
    explicit Results(bool json) : json_(json) {}
    /// `beside` follows the name on its line.
    void written(const std::filesystem::path& file, const std::string& beside = "");
    /// For JSON alone.
    void fact(const nlohmann::ordered_json& numbers) { facts_.update(numbers); }
    /// Prints the object.
    void finish() const;

  private:
    bool json_;
    std::vector<std::filesystem::path> files_;
    nlohmann::ordered_json facts_ = nlohmann::ordered_json::object();
};

/// A command's report as JSON, with the files that were written beside it: "written".
std::string with_written(const std::string& json, std::span<const std::filesystem::path> files);

/// Names the files that were written beside a report, on standard error.
void note_written(std::span<const std::filesystem::path> files, bool quiet);

/// Throws InputError where a file is a folder, or is already there and may not be replaced; `option` is the one that
/// would give it another name.
void refuse_existing(std::span<const std::filesystem::path> files, bool force, const std::string& option);

/// The same for all files of one command, none of which may be another one's.
class PlannedFiles {
  public:
    explicit PlannedFiles(bool force) : force_(force) {}
    void add(std::span<const std::filesystem::path> files, const std::string& option);
    void add(const std::optional<std::filesystem::path>& file, const std::string& option);

  private:
    bool force_;
    std::map<std::filesystem::path, std::string> option_of_;
};

/// Throws MachineError where the folder of `file` cannot be made, or its disk has less room than `bytes`.
void refuse_full_disk(const std::filesystem::path& file, double bytes);

/// What every report ends with: for teaching and research only. Acquired data are not called simulated.
std::string caution_of(bool simulated);

}  // namespace echoloom
