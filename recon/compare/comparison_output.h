#pragma once
/// Comparisons for people, for programs and for build servers.

#include <span>
#include <string>

#include "recon/compare/comparison.h"

namespace echoloom {

/// The verdict in one sentence: "WORSE: 3 of 42 numbers beyond tolerance ...".
std::string verdict_sentence(const PairComparison& comparison);

/// Verdict first, then samples, then metrics: for each its largest change, and every one beyond tolerance. `every`:
/// all of them, one per line.
std::string comparison_text(std::span<const PairComparison> comparisons, bool every);

/// format "echoloom comparison", format_version 1 (keys are only ever added); null where there is no number.
std::string comparison_json(std::span<const PairComparison> comparisons);

/// JUnit XML, as build servers read it: a suite for each pair, a case for each number; what is beyond tolerance is a
/// failure, an inconclusive comparison an error. (The dialect that Jenkins documents; element names from memory.)
std::string comparison_junit(std::span<const PairComparison> comparisons);

}  // namespace echoloom
