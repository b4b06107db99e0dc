#include "tools/cli/output.h"

#include <cstdio>
#include <system_error>

#include "recon/measure/report.h"
#include "sim/base/error.h"
#include "sim/base/text.h"

namespace echoloom {

void print(std::string_view text) {
    const bool written = std::fwrite(text.data(), 1, text.size(), stdout) == text.size();
    if (!written || std::fflush(stdout) != 0) {
        throw MachineError("standard output does not take the results; send them where there is room");
    }
}

void note(const std::string& line, bool quiet) {
    if (!quiet) {
        std::fprintf(stderr, "%s\n", line.c_str());
    }
}

void refuse_existing(std::span<const std::filesystem::path> files, bool force) {
    for (const std::filesystem::path& file : files) {
        std::error_code error;
        if (!force && std::filesystem::exists(std::filesystem::symlink_status(file, error))) {
            throw InputError({file.string()}, "already there; replace it with --force or give another name with -o");
        }
    }
}

void refuse_full_disk(const std::filesystem::path& file, double bytes) {
    std::error_code error;
    std::filesystem::path folder = std::filesystem::absolute(file, error).parent_path();
    while (!std::filesystem::exists(folder, error) && folder.has_relative_path()) {
        folder = folder.parent_path();
    }
    const std::filesystem::space_info space = std::filesystem::space(folder, error);
    if (!error && static_cast<double>(space.available) < bytes) {
        throw MachineError(at({file.string()}, "needs " + human_bytes(bytes) + " and the disk has " +
                                                   human_bytes(static_cast<double>(space.available)) +
                                                   " left; free some space or choose a folder on another disk"));
    }
}

std::string_view caution_words() {
    return caution;
}

}  // namespace echoloom
