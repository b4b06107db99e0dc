#include "sim/base/shipped.h"

#include <algorithm>
#include <system_error>

#include "sim/base/error.h"
#include "sim/base/home.h"
#include "sim/base/text.h"

namespace echoloom {

namespace {

struct Shelf {
    const char* noun;
    const char* folder;
};

Shelf shelf(ShippedKind kind) {
    switch (kind) {
        case ShippedKind::phantom:
            return {"phantom", "phantoms"};
        case ShippedKind::probe:
            return {"probe", "sim/probes"};
        case ShippedKind::scan:
            return {"scan", "sim/scans"};
        case ShippedKind::recipe:
            return {"recipe", "recon/recipes"};
    }
    return {"", ""};
}

}  // namespace

std::filesystem::path shipped_folder(ShippedKind kind) {
    return home_folder() / shelf(kind).folder;
}

std::filesystem::path find_shipped(ShippedKind kind, std::string_view path_or_name) {
    if (path_or_name.find('/') != std::string_view::npos || path_or_name.ends_with(".toml")) {
        return path_or_name;
    }
    const std::vector<std::string> names = shipped_names(kind);
    const std::string name(path_or_name);
    if (std::ranges::find(names, name) != names.end()) {
        return shipped_folder(kind) / (name + ".toml");
    }
    std::string what = std::string("no shipped ") + shelf(kind).noun + " is called '" + name + "', ";
    std::error_code ignored;
    if (!name.empty() && std::filesystem::is_regular_file(name, ignored)) {
        what += "write ./" + name + " for the file here";
    } else {
        what += suggestion(name, names);
    }
    throw InputError(what);
}

std::vector<std::string> shipped_names(ShippedKind kind) {
    std::vector<std::string> names;
    std::error_code missing;
    for (const auto& entry : std::filesystem::directory_iterator(shipped_folder(kind), missing)) {
        if (entry.path().extension() == ".toml") {
            names.push_back(entry.path().stem().string());
        }
    }
    if (names.empty()) {
        throw MachineError("there is no " + std::string(shelf(kind).noun) + " in " + shipped_folder(kind).string() +
                           "; " + home_remedy());
    }
    std::ranges::sort(names);
    return names;
}

}  // namespace echoloom
