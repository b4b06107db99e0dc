#include <omp.h>

#include "recon/measure/report.h"
#include "sim/base/atomic_file.h"
#include "tools/cli/commands.h"
#include "tools/cli/line_plots.h"
#include "tools/cli/output.h"

namespace echoloom {

namespace {

void refuse_outputs(const MeasureOptions& options) {
    if (options.csv) {
        refuse_existing({&*options.csv, 1}, options.force, "--csv");
    }
    if (options.plot) {
        refuse_existing(line_plot_files(*options.plot), options.force, "--plot (a folder)");
    }
}

}  // namespace

void run(const MeasureOptions& options) {
    if (options.threads > 0) {
        omp_set_num_threads(options.threads);
    }
    if (options.plot && options.images.size() > most_curves) {
        throw InputError({"--plot"},
                         "draws at most " + std::to_string(most_curves) + " images; measure the others apart");
    }
    refuse_outputs(options);

    std::vector<Image> images;
    std::vector<ImageReport> reports;
    for (const std::filesystem::path& file : options.images) {
        Image image = read_image(file);
        if (image.recording.truth.points.empty()) {
            throw InputError({file.string()},
                             "its recording knows no true points, so there is nothing to aim at; measure an image of a "
                             "phantom with points or wires");
        }
        reports.push_back(report_image(image));
        reports.back().file = file.string();
        if (options.plot) {
            images.push_back(std::move(image));
        }
    }

    label_apart(reports);
    if (options.csv) {
        write_file(*options.csv, csv_report(reports));
    }
    std::vector<std::filesystem::path> plots;
    if (options.plot) {
        plots = draw_line_plots(images, reports, *options.plot);
    }
    print(options.json ? json_report(reports) : text_report(reports));
    for (const std::filesystem::path& plot : plots) {
        note("drawn: " + plot.string());
    }
}

}  // namespace echoloom
