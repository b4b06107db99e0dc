#pragma once
/// The files of a gnuplot plot: NAME.csv (the numbers), NAME.gp (a script that needs only the CSV beside
/// it), NAME.png and NAME.svg.

#include <filesystem>
#include <string>
#include <vector>

namespace echoloom {

/// One plot as files: numbers, script, and pictures once gnuplot has drawn them.
struct PlotFiles {
    std::filesystem::path folder;
    std::string name;

    std::filesystem::path file(const std::string& ending) const { return folder / (name + ending); }
};

/// The settings that shipped scripts read: `curves`, `names`, `plot_title`, `key_columns` and, unless empty, `footer`.
std::string script_words(const std::vector<std::string>& names, const std::string& title, const std::string& footer);

/// The script is the settings of this plot followed by the shipped script of tools/plots, so it can be restyled and run
/// by itself.
void write_script(const PlotFiles& files, const std::string& settings, const std::string& shipped);

/// Runs the script; returns the PNG's path. Throws MachineError without gnuplot.
std::filesystem::path draw(const PlotFiles& files);

}  // namespace echoloom
