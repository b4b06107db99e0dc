#pragma once
/// A part of a report: a table of measured quantities, each beside what it should be.

#include <optional>
#include <string>
#include <utility>
#include <vector>

namespace echoloom {

/// How a measured value is compared with the first reference.
enum class Comparison { none, ratio, difference };

/// What one column of the table holds.
struct QuantityKind {
    std::string key;      ///< in CSV and JSON, unit at its end: "peak_side_lobe_dB"
    std::string heading;  ///< above the column: "peak side lobe, dB"
    int decimals = 1;
    std::vector<std::string> references;  ///< what stands beside it: "theory" (a closed form), "predicted" (computed
                                          ///< for this recipe), "true" (the phantom's own)
    Comparison comparison = Comparison::none;
    std::string sources;  ///< definition, closed form and sources, a sentence or two, for JSON
};

/// One measured value.
struct Quantity {
    std::optional<double> value;
    std::optional<std::pair<double, double>> confidence;  ///< 95 %
    std::vector<std::optional<double>> references;        ///< in the order of QuantityKind::references
    std::string note;                                     ///< why there is none, or why it deviates
};

struct SectionRow {
    std::string label;  ///< of a region; else empty
    std::optional<double> x_mm, depth_mm;
    std::vector<Quantity> quantities;  ///< in the order of Section::kinds
    std::string note;                  ///< about the whole row
};

struct Section {
    std::string key;          ///< "regions"
    std::string title;        ///< "Regions"
    std::string explanation;  ///< definitions with sources, for people; wrapped by section_explanation()
    std::vector<QuantityKind> kinds;
    std::vector<SectionRow> rows;
    std::vector<std::string> notes = {};  ///< about all of it
};

/// "ratio", "difference", or "error" where the first reference is the truth.
std::string comparison_name(const QuantityKind& kind);

/// Measured over the first reference, or minus it; nothing where either is missing or not finite.
std::optional<double> compared(const QuantityKind& kind, const Quantity& quantity);

}  // namespace echoloom
