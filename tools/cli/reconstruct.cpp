#include <algorithm>
#include <array>
#include <cctype>
#include <set>

#include "recon/beamform/aperture.h"
#include "recon/beamform/beamform.h"
#include "recon/beamform/grid_axes.h"
#include "recon/image/panels.h"
#include "recon/image/picture.h"
#include "recon/measure/report.h"
#include "sim/base/text.h"
#include "tools/cli/commands.h"
#include "tools/cli/line_plots.h"
#include "tools/cli/output.h"

namespace echoloom {

namespace {

constexpr std::size_t max_panels_on_a_page = 6;

/// What will be written where; known before the work starts.
struct Plan {
    std::filesystem::path folder;
    std::vector<std::filesystem::path> images;  ///< [recipe]
    std::optional<std::filesystem::path> panels;
    bool plots = false;

    static std::filesystem::path picture(std::filesystem::path image) { return image.replace_extension(".png"); }

    void refuse_existing_files(bool force) const {
        PlannedFiles planned(force);
        for (const std::filesystem::path& image : images) {
            const std::array both{image, picture(image)};
            planned.add(both, "-o");
        }
        planned.add(panels, "--panels");
        if (plots) {
            planned.add(line_plot_files(folder), "-o");
        }
    }
};

/// The recipe's name in words, for a title.
std::string title_of_name(std::string name) {
    std::replace(name.begin(), name.end(), '_', ' ');
    if (!name.empty()) {
        name[0] = static_cast<char>(std::toupper(static_cast<unsigned char>(name[0])));
    }
    return name;
}

/// A title may give the figure that an override has changed ("F/2"), so an image whose echoes were summed otherwise is
/// called by the recipe's name and what was changed.
void name_overrides(Recipe& recipe, std::span<const Override> overrides) {
    std::string changes;
    for (const Override& change : overrides) {
        if (change.key == "picture.title") {
            return;
        }
        if (!change.key.starts_with("picture.") && !change.key.starts_with("grid.")) {
            const std::string key = change.key.substr(change.key.rfind('.') + 1);
            changes += (changes.empty() ? "" : ", ") + key + " = " + change.value;
        }
    }
    if (!changes.empty()) {
        recipe.title = title_of_name(recipe.name) + " (" + changes + ')';
    }
}

std::vector<Recipe> load_recipes(const ReconstructOptions& options) {
    std::vector<Recipe> recipes;
    std::set<std::string> names;
    for (const std::string& path_or_name : options.recipes) {
        recipes.push_back(load_recipe(path_or_name, options.settings));
        name_overrides(recipes.back(), options.settings);
        const std::string& name = recipes.back().name;
        if (!names.insert(name).second) {
            throw InputError({"--recipe"},
                             "two recipes are named '" + name + "' and would write the same files; rename one of them");
        }
    }
    return recipes;
}

Plan make_plan(const ReconstructOptions& options, const std::vector<Recipe>& recipes, const Truth& truth) {
    Plan plan;
    const std::filesystem::path beside = options.recording.parent_path();
    const bool names_a_file = options.output && options.output->extension() == ".h5";
    if (names_a_file && recipes.size() > 1) {
        throw InputError({"--output"},
                         "names one image, and there are " + counted(recipes.size(), "recipe") + "; give a folder");
    }
    plan.folder = names_a_file ? options.output->parent_path() : options.output.value_or(beside);
    for (const Recipe& recipe : recipes) {
        plan.images.push_back(names_a_file ? *options.output : plan.folder / (recipe.name + ".h5"));
    }
    const bool panels_fit = recipes.size() >= 2 && recipes.size() <= max_panels_on_a_page;
    if (options.panels && !panels_fit) {
        throw InputError({"--panels"}, "shows 2 to " + std::to_string(max_panels_on_a_page) +
                                           " images side by side, and there " + (recipes.size() == 1 ? "is " : "are ") +
                                           counted(recipes.size(), "recipe"));
    }
    if (panels_fit) {
        plan.panels = options.panels.value_or(plan.folder / "panels.png");
        plan.plots = !truth.points.empty();
    }
    return plan;
}

struct GridSize {
    std::size_t columns = 0;
    std::size_t depths = 0;
};

/// Refuses a recipe that does not fit the recording, before any other has cost time.
GridSize grid_size(const Recipe& recipe, const RecordingInfo& info) {
    const ScanKind kind = scan_kind(info, recipe);
    const Aperture checked(recipe, info);
    const Grid grid = image_grid(recipe, info, kind);
    return {column_count(grid), depth_count(grid)};
}

/// One line on how much there is to do. The image held for the panels takes envelope and, where kept, RF.
std::string estimate_words(const RecordingInfo& info, std::span<const GridSize> sizes, double file_bytes) {
    const double samples = static_cast<double>(info.events.size() * info.channels * info.samples);
    std::string words = counted(info.events.size(), "event") + " of " + counted(info.channels, "channel") + " by " +
                        counted(info.samples, "sample") + " (" + human_bytes(4.0 * samples) +
                        "), one event at a time; ";
    words += sizes.size() == 1 ? "an image" : counted(sizes.size(), "image") + ", the first";
    words += " of " + std::to_string(sizes.front().columns) + " by " + counted(sizes.front().depths, "value") +
             ": files of " + human_bytes(file_bytes);
    return words;
}

double image_bytes(const Recipe& recipe, const GridSize& size) {
    return 4.0 * static_cast<double>(size.columns * size.depths) * (recipe.keep_rf ? 3.0 : 1.0);
}

/// The images side by side and, where there are points, their curves.
void show_together(const std::vector<Image>& images, const Plan& plan, bool mark_truth, Results& results) {
    draw_panels(images, *plan.panels, {.mark_truth = mark_truth});
    results.written(*plan.panels);
    if (!plan.plots) {
        return;
    }
    std::vector<ImageReport> reports;
    reports.reserve(images.size());
    for (const Image& image : images) {
        reports.push_back(report_image(image));
        reports.back().file = plan.images[reports.size() - 1].string();
    }
    label_apart(reports);
    for (const std::filesystem::path& plot : draw_line_plots(images, reports, plan.folder)) {
        results.written(plot);
    }
}

}  // namespace

void run(const ReconstructOptions& options) {
    // 1. Everything that can be refused is refused before the first sum.
    const std::vector<Recipe> recipes = load_recipes(options);
    RecordingReader recording(options.recording);
    const RecordingInfo& info = recording.info();
    const Plan plan = make_plan(options, recipes, info.truth);
    std::vector<GridSize> sizes;
    double bytes = 0.0;
    for (const Recipe& recipe : recipes) {
        sizes.push_back(grid_size(recipe, info));
        bytes += image_bytes(recipe, sizes.back());
    }
    plan.refuse_existing_files(options.force);
    refuse_full_disk(plan.images.front(), bytes);
    note(estimate_words(info, sizes, bytes), options.quiet);

    // 2. One image after the other, each written as soon as it is there.
    Results results(options.json);
    std::vector<Image> images;
    for (std::size_t i = 0; i < recipes.size(); ++i) {
        note("recipe " + std::to_string(i + 1) + " of " + std::to_string(recipes.size()) + ": " + recipes[i].name,
             options.quiet);
        Image image = form_image(beamform(recording, recipes[i], options.quiet), recipes[i], info);
        write_image(plan.images[i], image);
        draw_picture(image, Plan::picture(plan.images[i]), {.mark_truth = options.mark_truth});
        results.written(plan.images[i]);
        results.written(Plan::picture(plan.images[i]));
        if (plan.panels) {
            images.push_back(std::move(image));
        }
    }
    if (plan.panels) {
        show_together(images, plan, options.mark_truth, results);
    }
    results.finish();
}

}  // namespace echoloom
