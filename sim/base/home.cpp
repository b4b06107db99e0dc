#include "sim/base/home.h"

#include <algorithm>
#include <cstdlib>
#include <fstream>
#include <optional>
#include <sstream>
#include <system_error>

#include "sim/base/built_places.h"
#include "sim/base/error.h"

namespace echoloom {

namespace {

std::optional<std::filesystem::path> chosen_home() {
    const char* home = std::getenv("ECHOLOOM_HOME");
    return home != nullptr && *home != '\0' ? std::optional<std::filesystem::path>(home) : std::nullopt;
}

/// No other folder has these.
bool is_home(const std::filesystem::path& folder) {
    std::error_code ignored;
    return std::filesystem::is_directory(folder / "sim/probes", ignored) &&
           std::filesystem::is_regular_file(folder / "recon/compare/tolerances.toml", ignored);
}

bool lies_in(const std::filesystem::path& file, const std::filesystem::path& folder) {
    std::error_code ignored;
    const std::filesystem::path whole = std::filesystem::weakly_canonical(folder, ignored);
    return std::ranges::mismatch(whole, file).in1 == whole.end();
}

}  // namespace

std::vector<std::filesystem::path> home_candidates(const std::filesystem::path& program) {
    const std::filesystem::path folder = program.parent_path();
    const std::filesystem::path installed = built_places.installed;
    const std::filesystem::path built = built_places.source;
    std::vector<std::filesystem::path> places{(folder / built_places.from_program).lexically_normal(),
                                              folder.parent_path()};
    if (lies_in(program, built_places.build)) {
        places.insert(places.end(), {built, installed});
    } else {
        places.insert(places.end(), {installed, built});
    }
    return places;
}

std::string home_remedy() {
    if (const auto home = chosen_home()) {
        return "ECHOLOOM_HOME is set to " + home->string() +
               "; set it to a folder that holds all files of the program, or unset it";
    }
    return "install the program anew, or set ECHOLOOM_HOME to a checkout or to share/echoloom of an installation";
}

std::filesystem::path home_folder() {
    std::error_code error;
    if (const auto home = chosen_home()) {
        if (!std::filesystem::is_directory(*home, error)) {
            throw InputError({"ECHOLOOM_HOME"}, home->string() +
                                                    " is not a folder; set it to a checkout or to share/echoloom of an "
                                                    "installation, or unset it");
        }
        return *home;
    }
    const std::vector<std::filesystem::path> places =
        home_candidates(std::filesystem::read_symlink("/proc/self/exe", error));
    const auto found = std::ranges::find_if(places, is_home);
    if (found != places.end()) {
        return *found;
    }
    std::string looked;
    for (const std::filesystem::path& place : places) {
        looked += (looked.empty() ? "" : ", ") + place.string();
    }
    throw MachineError("the files that come with the program are missing; looked in " + looked + "; " + home_remedy());
}

std::string own_file(const std::filesystem::path& file) {
    const std::filesystem::path path = home_folder() / file;
    std::ifstream stream(path);
    std::ostringstream text;
    if (!stream || !(text << stream.rdbuf())) {
        throw MachineError(at({path.string()}, "cannot be read, and comes with the program; " + home_remedy()));
    }
    return text.str();
}

}  // namespace echoloom
