#pragma once
/// Round numbers along an axis, ruled like a measuring rod.

#include <string>
#include <vector>

namespace echoloom {

/// Smallest step of the series 1, 2, 5, 10, 20, 50 ... (and a tenth of it and so on), no less than `min_step`.
double round_step(double min_step);

/// A mark on a ruled edge: a division that carries a label, its half, or one of its tenths.
enum class TickKind { labelled, half, tenth };
struct Tick {
    double value = 0.0;
    TickKind kind = TickKind::labelled;
};

/// Marks from `least` to `most`, both included but for rounding: labelled at multiples of `step`, then halves, then
/// tenths where they stand no closer than `min_gap`.
std::vector<Tick> ruled_edge(double least, double most, double step, double min_gap);

/// The number with as many decimals as the step asks for, and a true minus sign (U+2212).
std::string tick_label(double value, double step);

}  // namespace echoloom
