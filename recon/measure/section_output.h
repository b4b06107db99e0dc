#pragma once
/// Sections of a report as text for people, and as rows of a CSV file.

#include <span>
#include <string>

#include "recon/measure/report.h"
#include "recon/measure/section.h"

namespace echoloom {

/// Title, table and lettered notes; lines of the table indented by two.
std::string section_text(const Section& section);

/// Title and explanation, wrapped.
std::string section_explanation(const Section& section);

/// Every quantity of every section, one per line: file, recipe, section, label, x_mm, depth_mm, quantity, value, low,
/// high (95 %), reference ("theory", "predicted" or "true"), reference_value, ratio, difference, note. A quantity with
/// two references has two lines. First line a comment with the caution.
std::string quantities_csv(std::span<const ImageReport> images);

}  // namespace echoloom
