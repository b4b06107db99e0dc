#pragma once
/// What a phantom and a recipe hold, in words and for machines. `name` is how the person called the file.

#include <filesystem>
#include <span>
#include <string>

#include "tools/cli/facts.h"

namespace echoloom {

Facts phantom_facts(const std::string& name, const std::filesystem::path& file, std::span<const Override> changes);
Facts recipe_facts(const std::string& name, const std::filesystem::path& file, std::span<const Override> changes);

}  // namespace echoloom
