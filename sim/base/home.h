#pragma once
/// The program's own files, which come with it: phantoms, probes, scans, recipes, plot scripts, tolerances. They lie
/// alike in a checkout and in share/echoloom of an installation.

#include <filesystem>
#include <string>
#include <vector>

namespace echoloom {

/// Where they are looked for, in order: beside the program (share/echoloom of its installation, or the checkout that
/// its build folder lies in), where it was installed, where it was built. A program still in its build folder belongs
/// to the sources there, whatever else is installed.
std::vector<std::filesystem::path> home_candidates(const std::filesystem::path& program);

/// The folder that holds them: $ECHOLOOM_HOME where it is set, else the first of the candidates that does. Throws
/// MachineError that names them where none does, InputError where ECHOLOOM_HOME is not a folder.
std::filesystem::path home_folder();

/// What to do where a file of theirs is missing: a part of a sentence.
std::string home_remedy();

/// The text of one, as in "tools/plots/beam.gp". Throws MachineError with the remedy.
std::string own_file(const std::filesystem::path& file);

}  // namespace echoloom
