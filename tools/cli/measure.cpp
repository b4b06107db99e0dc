#include "recon/measure/correlation.h"
#include "recon/measure/report.h"
#include "recon/measure/section_output.h"
#include "recon/measure/sections.h"
#include "sim/base/atomic_file.h"
#include "sim/base/progress.h"
#include "tools/cli/commands.h"
#include "tools/cli/line_plots.h"
#include "tools/cli/output.h"

namespace echoloom {

namespace {

/// "correlation", or "correlation_1" and so on where there are several images.
std::vector<std::string> correlation_plot_names(const MeasureOptions& options) {
    std::vector<std::string> names;
    for (std::size_t n = 0; n < options.images.size(); ++n) {
        names.push_back(options.images.size() == 1 ? "correlation" : "correlation_" + std::to_string(n + 1));
    }
    return names;
}

std::vector<std::filesystem::path> plot_files(const MeasureOptions& options) {
    if (!options.correlation) {
        return line_plot_files(*options.plot, true);
    }
    std::vector<std::filesystem::path> files;
    for (const std::string& name : correlation_plot_names(options)) {
        for (const char* ending : {".csv", ".gp", ".png", ".svg"}) {
            files.push_back(*options.plot / (name + ending));
        }
    }
    return files;
}

/// table.csv: table_quantities.csv.
std::filesystem::path quantities_file(const std::filesystem::path& csv) {
    return csv.parent_path() / (csv.stem().string() + "_quantities" + csv.extension().string());
}

void refuse_outputs(const MeasureOptions& options) {
    PlannedFiles planned(options.force);
    planned.add(options.csv, "--csv");
    if (options.csv && !options.correlation) {
        planned.add(quantities_file(*options.csv), "--csv");
    }
    if (options.plot) {
        planned.add(plot_files(options), "--plot (a folder)");
    }
}

Image read_aimed(const std::filesystem::path& file) {
    Image image = read_image(file);
    if (image.recording.truth.points.empty()) {
        throw InputError({file.string()},
                         "its recording contains no true points, so there is nothing to measure; give an image of a "
                         "phantom with points or wires");
    }
    return image;
}

void run_correlation(const MeasureOptions& options) {
    refuse_outputs(options);
    std::vector<CorrelationReport> reports;
    for (const std::filesystem::path& file : options.images) {
        reports.push_back(correlate_pulses(read_aimed(file), {file.string()}));
        reports.back().file = file.string();
    }
    std::vector<std::filesystem::path> written;
    if (options.csv) {
        write_file(*options.csv, correlation_csv(reports));
        written.push_back(*options.csv);
    }
    for (std::size_t n = 0; options.plot && n < reports.size(); ++n) {
        written.push_back(plot_correlation(reports[n], *options.plot, correlation_plot_names(options)[n]));
    }
    print(options.json ? with_written(correlation_json(reports), written) : correlation_text(reports));
    note_written(written, options.quiet);
}

/// What is written beside the report.
std::vector<std::filesystem::path> write_files(const MeasureOptions& options, std::span<const Image> images,
                                               std::span<const ImageReport> reports) {
    std::vector<std::filesystem::path> written;
    if (options.csv) {
        write_file(*options.csv, csv_report(reports));
        write_file(quantities_file(*options.csv), quantities_csv(reports));
        written = {*options.csv, quantities_file(*options.csv)};
    }
    if (!options.plot) {
        return written;
    }
    const std::size_t before = written.size();
    for (auto& plot : draw_line_plots(images, reports, *options.plot)) {
        written.push_back(std::move(plot));
    }
    for (auto& plot : draw_section_plots(reports, *options.plot)) {
        written.push_back(std::move(plot));
    }
    if (written.size() == before) {
        note("nothing to draw: curves need points, regions or speckle at two depths or more", options.quiet);
    }
    return written;
}

}  // namespace

void run(const MeasureOptions& options) {
    if (options.correlation) {
        run_correlation(options);
        return;
    }
    if (options.plot && options.images.size() > max_curves) {
        throw InputError({"--plot"},
                         "draws at most " + std::to_string(max_curves) + " images; measure the others apart");
    }
    refuse_outputs(options);

    std::vector<Image> images;
    std::vector<ImageReport> reports;
    constexpr std::size_t steps = 2;  // of an image
    Progress progress("measuring", steps * options.images.size(), options.quiet);
    for (const std::filesystem::path& file : options.images) {
        Image image = read_image(file);
        const AimedAt aimed = take_aim(image, options.aim, {file.string()});
        reports.push_back(report_image(image, aimed));
        progress.advance();
        reports.back().sections = report_sections(image, reports.back());
        progress.advance();
        reports.back().file = file.string();
        if (options.plot) {
            images.push_back(std::move(image));
        }
    }

    label_apart(reports);
    const std::vector<std::filesystem::path> written = write_files(options, images, reports);
    print(options.json ? with_written(json_report(reports), written) : text_report(reports));
    note_written(written, options.quiet);
}

}  // namespace echoloom
