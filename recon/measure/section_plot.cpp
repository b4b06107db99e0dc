#include "recon/measure/section_plot.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <tuple>
#include <vector>

#include "recon/measure/csv.h"
#include "recon/measure/plot.h"
#include "recon/measure/plot_files.h"
#include "sim/base/atomic_file.h"
#include "sim/base/text.h"

namespace echoloom {
namespace {

const Section* section_of(const ImageReport& image, const std::string& key) {
    const auto section = std::ranges::find(image.sections, key, &Section::key);
    return section == image.sections.end() ? nullptr : &*section;
}

std::vector<std::string> labels_of(std::span<const ImageReport> images) {
    std::vector<std::string> labels;
    for (const ImageReport& image : images) labels.push_back(image.label);
    return labels;
}

/// A region by its truth: those of one contrast follow each other by depth, then by x.
using RegionKey = std::tuple<double, double, double, std::string>;

/// Measured value and its confidence, of each image.
using ContrastRow = std::vector<std::optional<Quantity>>;

std::map<RegionKey, ContrastRow> contrasts_of(std::span<const ImageReport> images) {
    std::map<RegionKey, ContrastRow> rows;
    for (std::size_t n = 0; n < images.size(); ++n) {
        const Section* section = section_of(images[n], "regions");
        if (!section) continue;
        for (const SectionRow& row : section->rows) {
            const Quantity& contrast = row.quantities.front();
            if (!contrast.value || !row.depth_mm) continue;
            const double truth = contrast.references.front().value_or(std::numeric_limits<double>::infinity());
            ContrastRow& all = rows[{truth, *row.depth_mm, row.x_mm.value_or(0.0), row.label}];
            all.resize(images.size());
            all[n] = contrast;
        }
    }
    return rows;
}

/// The row of a point in an image's side lobes; nothing where it has none.
const SectionRow* lobe_row(const ImageReport& image, const SectionRow& like) {
    const Section* section = section_of(image, "side_lobes");
    if (!section) return nullptr;
    for (const SectionRow& row : section->rows) {
        if (std::abs(*row.x_mm - *like.x_mm) < 1e-3 && std::abs(*row.depth_mm - *like.depth_mm) < 1e-3) return &row;
    }
    return nullptr;
}

const PointReport* point_at(const ImageReport& image, const SectionRow& row) {
    for (const PointReport& point : image.points) {
        const Vec3& place = point.measured.true_m;
        if (std::abs(place.x() * 1e3 - *row.x_mm) < 1e-3 && std::abs(place.z() * 1e3 - *row.depth_mm) < 1e-3) {
            return &point;
        }
    }
    return nullptr;
}

/// The point whose side lobe is known in most images; of several, the middle one.
const SectionRow* best_point(std::span<const ImageReport> images) {
    std::vector<const SectionRow*> best;
    long max_known = 1;
    for (const ImageReport& image : images) {
        const Section* section = section_of(image, "side_lobes");
        if (!section) continue;
        for (const SectionRow& row : section->rows) {
            const auto known = std::ranges::count_if(images, [&](const ImageReport& other) {
                const SectionRow* there = lobe_row(other, row);
                return there && there->quantities.front().value;
            });
            if (known > max_known) best.clear();
            if (known >= 2 && known >= max_known) best.push_back(&row);
            max_known = std::max<long>(max_known, known);
        }
        if (!best.empty()) break;
    }
    return best.empty() ? nullptr : best[best.size() / 2];
}

std::optional<double> finite(std::optional<double> value) {
    return value && std::isfinite(*value) ? value : std::nullopt;
}

}  // namespace

std::optional<std::filesystem::path> plot_contrast(std::span<const ImageReport> images,
                                                   const std::filesystem::path& folder, const std::string& name) {
    const auto rows = contrasts_of(images);
    if (rows.size() < 2) return std::nullopt;
    const PlotFiles files{folder, name};
    std::string csv = "depth_mm,x_mm,region,true_dB";
    for (const ImageReport& image : images) {
        for (const char* column : {": contrast_dB", ": low_dB", ": high_dB"}) {
            csv.append(",").append(csv_word(image.label + column));
        }
    }
    csv += "\n";
    std::optional<double> before;
    for (const auto& [key, row] : rows) {
        const auto& [truth, depth, x, label] = key;
        // An empty line ends a curve: regions of one contrast are joined, others not.
        if (before && *before != truth) csv += "\n";
        before = truth;
        csv += csv_number(depth) + "," + csv_number(x) + "," + csv_word(label) + "," + csv_number(finite(truth));
        for (const auto& contrast : row) {
            csv += "," + (contrast ? csv_number(contrast->value) + "," + csv_number(contrast->confidence->first) + "," +
                                         csv_number(contrast->confidence->second)
                                   : ",,");
        }
        csv += "\n";
    }
    write_file(files.file(".csv"), csv);
    write_script(files, script_words(labels_of(images), "Contrast of regions against depth", plot_footer(images)),
                 "contrast.gp");
    return draw(files);
}

std::optional<std::filesystem::path> plot_speckle_sizes(std::span<const ImageReport> images,
                                                        const std::filesystem::path& folder, const std::string& name) {
    constexpr std::size_t lateral = 2;  // index into the section's kinds
    std::map<double, std::vector<std::pair<std::optional<double>, std::optional<double>>>> rows;
    for (std::size_t n = 0; n < images.size(); ++n) {
        const Section* section = section_of(images[n], "speckle");
        if (!section) continue;
        for (const SectionRow& row : section->rows) {
            auto& all = rows[*row.depth_mm];
            all.resize(images.size());
            if (!all[n].first) all[n] = {row.quantities[lateral].value, row.quantities[lateral].references.front()};
        }
    }
    if (rows.size() < 2) return std::nullopt;
    const PlotFiles files{folder, name};
    std::string csv = "depth_mm";
    for (const ImageReport& image : images) {
        for (const char* column : {": measured_mm", ": predicted_mm", ": unused"}) {
            csv.append(",").append(csv_word(image.label + column));
        }
    }
    csv += "\n";
    double highest = 0.0;
    for (const auto& [depth, all] : rows) {
        csv += csv_number(depth);
        for (const auto& [measured, predicted] : all) {
            csv += "," + csv_number(measured) + "," + csv_number(predicted) + ",";
            highest = std::max({highest, measured.value_or(0.0), predicted.value_or(0.0)});
        }
        csv += "\n";
    }
    write_file(files.file(".csv"), csv);
    write_script(files,
                 script_words(labels_of(images), "Lateral speckle size against depth", plot_footer(images)) +
                     "width_label = 'lateral speckle size (mm)'\nset yrange [0:" + csv_number(1.1 * highest) + "]\n",
                 "widths.gp");
    return draw(files);
}

std::optional<std::filesystem::path> plot_side_lobes(std::span<const ImageReport> images,
                                                     const std::filesystem::path& folder, const std::string& name) {
    const SectionRow* chosen = images.size() > 1 ? best_point(images) : nullptr;
    if (!chosen) return std::nullopt;
    const PlotFiles files{folder, name};
    std::string csv = "image,peak_side_lobe_dB,predicted_dB,theory_dB,width_mm,predicted_width_mm,theory_width_mm\n";
    for (const ImageReport& image : images) {
        const SectionRow* row = lobe_row(image, *chosen);
        const PointReport* point = point_at(image, *chosen);
        const auto mm = [](std::optional<double> length_m) {
            return length_m ? std::optional(*length_m * 1e3) : std::nullopt;
        };
        csv += csv_word(image.label) + ",";
        if (row) {
            const Quantity& lobe = row->quantities.front();
            csv += csv_number(lobe.value) + "," + csv_number(lobe.references[0]) + "," + csv_number(lobe.references[1]);
        } else {
            csv += ",,";
        }
        if (point && point->measured.found) {
            csv += "," + csv_number(mm(point->measured.lateral_6dB.width_m)) + "," +
                   csv_number(mm(point->predicted_lateral_6dB_m)) + "," +
                   csv_number(finite(point->theory_lateral_6dB_m * 1e3));
        } else {
            csv += ",,,";
        }
        csv += "\n";
    }
    write_file(files.file(".csv"), csv);
    const std::string position = "point at x = " + plain(std::round(*chosen->x_mm * 100.0) / 100.0) + " mm, " +
                                 plain(std::round(*chosen->depth_mm * 100.0) / 100.0) + " mm deep";
    write_script(
        files, script_words(labels_of(images), "Peak side lobe and main lobe width: " + position, plot_footer(images)),
        "side_lobes.gp");
    return draw(files);
}

}  // namespace echoloom
