#include <algorithm>
#include <set>

#include "recon/compare/comparison.h"
#include "recon/compare/comparison_output.h"
#include "recon/compare/difference_picture.h"
#include "sim/base/atomic_file.h"
#include "sim/base/progress.h"
#include "sim/recording/groups.h"
#include "tools/cli/commands.h"
#include "tools/cli/output.h"

namespace echoloom {

namespace {

namespace fs = std::filesystem;

struct Pair {
    fs::path before, after;
    std::optional<fs::path> picture;
};

const std::string image_kind = "echoloom image";

/// Every HDF5 file below a folder, by its path from there.
std::set<fs::path> files_below(const fs::path& folder) {
    std::set<fs::path> files;
    for (const fs::directory_entry& entry : fs::recursive_directory_iterator(folder)) {
        if (entry.is_regular_file() && entry.path().extension() == ".h5") {
            files.insert(entry.path().lexically_relative(folder));
        }
    }
    return files;
}

/// fields/apodized.h5: fields_apodized.png.
std::string picture_name(const fs::path& file) {
    std::string name = fs::path(file).replace_extension(".png").generic_string();
    std::ranges::replace(name, '/', '_');
    return name;
}

std::vector<Pair> pairs_of(const CompareOptions& options) {
    for (const fs::path& path : {options.before, options.after}) {
        if (!fs::exists(path)) {
            throw InputError({path.string()},
                             "no such file or folder; give an image, a recording, or a folder of them");
        }
    }
    if (fs::is_directory(options.before) != fs::is_directory(options.after)) {
        throw InputError({options.after.string()}, "one of the two is a folder, the other a file; give two of a kind");
    }
    if (!fs::is_directory(options.before)) {
        return {{options.before, options.after, options.picture}};
    }
    std::set<fs::path> names = files_below(options.before);
    names.merge(files_below(options.after));
    if (names.empty()) {
        throw InputError({options.before.string()}, "contains no .h5 file; give a folder of images or recordings");
    }
    std::vector<Pair> pairs;
    for (const fs::path& name : names) {
        const auto picture = options.picture ? std::optional(*options.picture / picture_name(name)) : std::nullopt;
        pairs.push_back({options.before / name, options.after / name, picture});
    }
    return pairs;
}

void refuse_outputs(const CompareOptions& options, const std::vector<Pair>& pairs) {
    PlannedFiles planned(options.force);
    planned.add(options.junit, "--junit");
    for (const Pair& pair : pairs) {
        planned.add(pair.picture, "--picture");
    }
}

PairComparison compare_image_files(const Pair& pair, const Tolerances& tolerances, bool always_draw,
                                   std::vector<fs::path>& drawn) {
    const Image before = read_image(pair.before);
    const Image after = read_image(pair.after);
    PairComparison comparison = compare_images(before, after, tolerances);
    const bool differs = comparison.verdict != Verdict::identical;
    if (pair.picture && !comparison.differences.empty() && (always_draw || differs)) {
        draw_difference(before, after, verdict_sentence(comparison), *pair.picture);
        drawn.push_back(*pair.picture);
    }
    return comparison;
}

PairComparison compare_recording_files(const Pair& pair, const Tolerances& tolerances, bool always_draw,
                                       std::vector<fs::path>& drawn) {
    RecordingReader before(pair.before);
    RecordingReader after(pair.after);
    PairComparison comparison = compare_recordings(before, after, tolerances);
    const bool differs = comparison.verdict != Verdict::identical;
    if (pair.picture && !comparison.differences.empty() && (always_draw || differs)) {
        const std::size_t event = comparison.differences.front().difference.largest_row / before.info().channels;
        draw_difference(before, after, event,
                        "Event " + std::to_string(event + 1) +
                            ", its channels side by side, depth by the round trip. " + verdict_sentence(comparison),
                        *pair.picture);
        drawn.push_back(*pair.picture);
    }
    return comparison;
}

PairComparison compare_files(const Pair& pair, const Tolerances& tolerances, bool always_draw,
                             std::vector<fs::path>& drawn) {
    const std::string before = format_of(pair.before);
    const std::string after = format_of(pair.after);
    if (before != after) {
        throw InputError({pair.after.string()},
                         "is of another kind than what it is compared with; give two images "
                         "or two recordings");
    }
    // The recording reader refuses a file of neither kind.
    return before == image_kind ? compare_image_files(pair, tolerances, always_draw, drawn)
                                : compare_recording_files(pair, tolerances, always_draw, drawn);
}

/// In a folder what cannot be read is reported with the rest.
PairComparison compare_within_folder(const Pair& pair, const Tolerances& tolerances, std::vector<fs::path>& drawn) {
    PairComparison comparison;
    for (const fs::path& file : {pair.before, pair.after}) {
        if (!fs::exists(file)) {
            comparison.reason = file.string() + " is not there";
            return comparison;
        }
    }
    try {
        return compare_files(pair, tolerances, false, drawn);
    } catch (const InputError& error) {
        comparison.reason = error.what();
        return comparison;
    }
}

int exit_code(Verdict verdict) {
    return passes(verdict) ? 0 : verdict == Verdict::inconclusive ? 2 : 1;
}

}  // namespace

int run(const CompareOptions& options) {
    const Tolerances tolerances = Tolerances::load(options.tolerances);
    const std::vector<Pair> pairs = pairs_of(options);
    refuse_outputs(options, pairs);

    const bool folders = fs::is_directory(options.before);
    std::vector<PairComparison> comparisons;
    std::vector<fs::path> drawn;
    {
        Progress progress("comparing", pairs.size(), options.quiet);
        for (const Pair& pair : pairs) {
            comparisons.push_back(folders ? compare_within_folder(pair, tolerances, drawn)
                                          : compare_files(pair, tolerances, true, drawn));
            comparisons.back().before = pair.before.string();
            comparisons.back().after = pair.after.string();
            progress.advance();
        }
    }
    std::vector<fs::path> written = drawn;
    if (options.junit) {
        write_file(*options.junit, comparison_junit(comparisons));
        written.push_back(*options.junit);
    }
    print(options.json ? with_written(comparison_json(comparisons), written)
                       : comparison_text(comparisons, options.every));
    note_written(written, options.quiet);
    return exit_code(overall(comparisons));
}

}  // namespace echoloom
