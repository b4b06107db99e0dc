#pragma once
/// A part of a report: a table of measured quantities, each with what theory says beside it.

#include <optional>
#include <string>
#include <utility>
#include <vector>

namespace echoloom {

/// How a measured value is held against the first theory.
enum class Comparison { none, ratio, difference };

/// What one column of the table holds.
struct QuantityKind {
    std::string key;      ///< in CSV and JSON, unit at its end: "peak_side_lobe_dB"
    std::string heading;  ///< over the table: "highest side lobe, dB"
    int decimals = 1;
    std::vector<std::string> theories;  ///< keys of what stands beside it: "predicted", "rule"
    Comparison comparison = Comparison::none;
    std::string sources;  ///< definition and sources, one sentence or two, for JSON
};

/// One measured value.
struct Quantity {
    std::optional<double> value;
    std::optional<std::pair<double, double>> confidence;  ///< 95 %
    std::vector<std::optional<double>> theories;          ///< in the order of QuantityKind::theories
    std::string note;                                     ///< why there is none, or why it is off
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
    std::string explanation;  ///< definitions with sources, for people; lines broken by the reader
    std::vector<QuantityKind> kinds;
    std::vector<SectionRow> rows;
    std::vector<std::string> notes = {};  ///< about all of it
};

/// Measured over theory, or minus it; nothing where either is missing or not finite.
std::optional<double> compared(const QuantityKind& kind, const Quantity& quantity);

}  // namespace echoloom
