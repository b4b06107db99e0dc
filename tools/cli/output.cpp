#include "tools/cli/output.h"

#include <cstdio>
#include <system_error>

#include "recon/image/description.h"
#include "sim/base/error.h"
#include "sim/base/text.h"

namespace echoloom {

void print(std::string_view text) {
    const bool written = std::fwrite(text.data(), 1, text.size(), stdout) == text.size();
    if (!written || std::fflush(stdout) != 0) {
        throw MachineError("the results could not be written to standard output; redirect them to where there is room");
    }
}

void note(const std::string& line, bool quiet) {
    if (!quiet) {
        std::fprintf(stderr, "%s\n", line.c_str());
    }
}

void Results::written(const std::filesystem::path& file, const std::string& beside) {
    files_.push_back(file);
    if (!json_) {
        print(file.string() + (beside.empty() ? "" : "  " + beside) + '\n');
    }
}

namespace {

nlohmann::ordered_json names_of(std::span<const std::filesystem::path> files) {
    nlohmann::ordered_json names = nlohmann::ordered_json::array();
    for (const std::filesystem::path& file : files) {
        names.push_back(file.string());
    }
    return names;
}

}  // namespace

void Results::finish() const {
    if (!json_) {
        return;
    }
    nlohmann::ordered_json all = {{"written", names_of(files_)}};
    all.update(facts_);
    print(all.dump(2) + '\n');
}

std::string with_written(const std::string& json, std::span<const std::filesystem::path> files) {
    nlohmann::ordered_json all = nlohmann::ordered_json::parse(json);
    all["written"] = names_of(files);
    return all.dump(2) + '\n';
}

void note_written(std::span<const std::filesystem::path> files, bool quiet) {
    for (const std::filesystem::path& file : files) {
        note("written: " + file.string(), quiet);
    }
}

void refuse_existing(std::span<const std::filesystem::path> files, bool force, const std::string& option) {
    for (const std::filesystem::path& file : files) {
        std::error_code error;
        if (std::filesystem::is_directory(file, error) || !file.has_filename()) {
            throw InputError({file.string()}, "this is a folder; give the name of a file with " + option);
        }
        if (!force && std::filesystem::exists(std::filesystem::symlink_status(file, error))) {
            throw InputError({file.string()},
                             "already there; replace it with --force or give another name with " + option);
        }
    }
}

void PlannedFiles::add(std::span<const std::filesystem::path> files, const std::string& option) {
    refuse_existing(files, force_, option);
    for (const std::filesystem::path& file : files) {
        std::error_code error;
        const auto [other, is_new] =
            option_of_.emplace(std::filesystem::absolute(file, error).lexically_normal(), option);
        if (!is_new) {
            throw InputError({option}, "would write " + file.string() + ", as " +
                                           (other->second == option ? "it does already" : other->second + " does") +
                                           "; give one of the two another name");
        }
    }
}

void PlannedFiles::add(const std::optional<std::filesystem::path>& file, const std::string& option) {
    if (file) {
        add({&*file, 1}, option);
    }
}

namespace {

/// The folder that is there, nearest above `file`. Making the one below it is tried, and undone.
std::filesystem::path folder_above(const std::filesystem::path& file) {
    std::error_code error;
    std::filesystem::path folder = std::filesystem::absolute(file, error).parent_path();
    std::filesystem::path missing;
    while (!std::filesystem::exists(folder, error) && folder.has_relative_path()) {
        missing = folder;
        folder = folder.parent_path();
    }
    if (!missing.empty()) {
        std::filesystem::create_directory(missing, error);
        if (error) {
            throw MachineError(at({file.parent_path().string()}, "cannot create this folder: " + error.message() +
                                                                     "; choose a folder you may write to"));
        }
        std::filesystem::remove(missing, error);
    }
    return folder;
}

}  // namespace

void refuse_full_disk(const std::filesystem::path& file, double bytes) {
    const std::filesystem::path folder = folder_above(file);
    std::error_code error;
    const std::filesystem::space_info space = std::filesystem::space(folder, error);
    if (!error && static_cast<double>(space.available) < bytes) {
        throw MachineError(at({file.string()}, "needs " + human_bytes(bytes) + " and the disk has " +
                                                   human_bytes(static_cast<double>(space.available)) +
                                                   " left; free some space or choose a folder on another disk"));
    }
}

std::string caution_of(bool simulated) {
    std::string text = caution(simulated);
    text.pop_back();  // the full stop
    return text + "; licensed practice and local regulations decide.";
}

}  // namespace echoloom
