#include "recon/measure/plot_files.h"

#include <algorithm>
#include <fstream>
#include <sstream>

#include "recon/measure/gnuplot.h"
#include "sim/base/atomic_file.h"
#include "sim/base/error.h"
#include "sim/base/home.h"

namespace echoloom {
namespace {

/// Curve names as gnuplot's word() splits them.
std::string quoted_names(const std::vector<std::string>& names) {
    std::string words;
    for (std::string name : names) {
        std::replace(name.begin(), name.end(), '"', '\'');
        words += (words.empty() ? "\"" : " \"") + name + "\"";
    }
    return gnuplot_quoted(words);
}

/// Legend columns that fit the page.
std::string key_columns(const std::vector<std::string>& names) {
    std::size_t longest = 0;
    for (const std::string& name : names) longest = std::max(longest, name.size());
    return std::string("key_columns = ") + (longest <= 18 ? "3" : longest <= 36 ? "2" : "1") + "\n";
}

}  // namespace

std::string script_words(const std::vector<std::string>& names, const std::string& title, const std::string& footer) {
    std::string words = "curves = " + std::to_string(names.size()) + "\nnames = " + quoted_names(names) +
                        "\nplot_title = " + gnuplot_quoted(title) + "\n" + key_columns(names);
    // gnuplot reads an escape only in double quotes, so the lines are joined by its own operator.
    std::string joined;
    std::istringstream lines(footer);
    for (std::string line; std::getline(lines, line);) {
        joined.append(joined.empty() ? "" : " . \"\\n\" . ").append(gnuplot_quoted(line));
    }
    return words + (joined.empty() ? "" : "footer = " + joined + "\n");
}

void write_script(const PlotFiles& files, const std::string& settings, const std::string& shipped) {
    const std::string own = "# " + files.name + ".gp: run `gnuplot " + files.name +
                            ".gp` in this folder after a change.\n" + "csv = " + gnuplot_quoted(files.name + ".csv") +
                            "\n" + "if (!exists(\"png_file\")) png_file = " + gnuplot_quoted(files.name + ".png") +
                            "\n" + "if (!exists(\"svg_file\")) svg_file = " + gnuplot_quoted(files.name + ".svg") +
                            "\n" + settings + "\n";
    write_file(files.file(".gp"), own + own_file("tools/plots/" + shipped));
}

std::filesystem::path draw(const PlotFiles& files) {
    AtomicFile png(files.file(".png"));
    AtomicFile svg(files.file(".svg"));
    const auto whole = [](const AtomicFile& file) {
        return gnuplot_quoted(std::filesystem::absolute(file.temporary()).string());
    };
    run_gnuplot(files.file(".gp"), "png_file=" + whole(png) + "; svg_file=" + whole(svg));
    png.commit();
    svg.commit();
    return files.file(".png");
}

}  // namespace echoloom
