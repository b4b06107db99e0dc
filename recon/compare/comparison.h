#pragma once
/// Comparison of two images, or of two recordings: the same, better, worse, or different; where, and by how much.

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "recon/compare/difference.h"
#include "recon/compare/metrics.h"
#include "recon/compare/tolerances.h"
#include "recon/image/image.h"
#include "sim/recording/recording_reader.h"

namespace echoloom {

/// In the order of concern to somebody who wanted no change.
enum class Verdict { identical, same, better, worse, different, inconclusive };

/// "SAME WITHIN TOLERANCE" and the like.
std::string verdict_word(Verdict verdict);
/// Identical or the same within tolerance.
bool passes(Verdict verdict);

enum class Outcome { ignored, same, better, worse, different };

/// One number before and after, judged.
struct Check {
    std::string name;   ///< Metric::name
    std::string where;  ///< Metric::where
    std::optional<double> before, after;
    double change = 0.0;             ///< after - before; NaN where one is missing
    double allowed = 0.0;            ///< by how much it may change; NaN where one is missing
    std::optional<double> min, max;  ///< limits on `after`, where these decide
    Outcome outcome = Outcome::same;
    bool failed() const { return outcome >= Outcome::better; }
};

/// One kind of samples: the envelope, the radio-frequency lines, the channel data.
struct NamedDifference {
    std::string name;  ///< "image", "image_rf" or "recording"
    Difference difference;
    std::string where;   ///< of the largest: "x 0.00, depth 30.00 mm"
    std::string mostly;  ///< where 80 % of it lies
    std::string as_if;   ///< the change of level and shift that would explain it, as text; may be empty
};

struct PairComparison {
    std::string before, after;  ///< files
    std::string kind;           ///< "image" or "recording"; empty where the two differ in that
    Verdict verdict = Verdict::inconclusive;
    std::vector<NamedDifference> differences;
    std::vector<Check> checks;
    std::vector<std::string> notes;  ///< what else differs
    std::string reason;              ///< why samples could not be compared; empty where they could

    std::size_t count(Outcome outcome) const;
};

/// Metrics by name and place: those before, in their order, then those that exist only after. One that has a value on
/// one side only fails, unless it is ignored; one without any value is left out.
std::vector<Check> judge(std::span<const Metric> before, std::span<const Metric> after, const Tolerances& tolerances);
/// One number that tolerances limit by `min` or `max`.
Check judge_limit(const std::string& name, const std::string& where, double value, const Tolerances& tolerances);
/// The verdict that follows from the rest.
Verdict verdict_of(const PairComparison& comparison);

/// Samples where the grids are the same, similarity of the pictures, and, unless every sample is the same, every
/// metric.
PairComparison compare_images(const Image& before, const Image& after, const Tolerances& tolerances);
/// Only the samples: adds the differences and their checks.
void compare_samples(const Image& before, const Image& after, const Tolerances& tolerances, PairComparison& comparison);

/// Samples, levels and delays, event by event, and the settings of probe, events and medium.
PairComparison compare_recordings(RecordingReader& before, RecordingReader& after, const Tolerances& tolerances);

/// That of several together: different first, then better or worse, then inconclusive, then the same.
Verdict overall(std::span<const PairComparison> comparisons);

}  // namespace echoloom
