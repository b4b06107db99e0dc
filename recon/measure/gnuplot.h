#pragma once
/// Runs gnuplot on a script.

#include <filesystem>
#include <string>

namespace echoloom {

/// Runs `gnuplot -e ASSIGNMENTS SCRIPT` in the script's folder, without a shell. Throws MachineError that names the
/// Debian package where gnuplot is missing, or contains gnuplot's own message where it fails.
void run_gnuplot(const std::filesystem::path& script, const std::string& assignments);

/// Text as a gnuplot string in single quotes.
std::string gnuplot_quoted(const std::string& text);

}  // namespace echoloom
