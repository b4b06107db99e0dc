#include "recon/measure/section.h"

#include <cmath>

namespace echoloom {

std::string comparison_name(const QuantityKind& kind) {
    if (kind.comparison == Comparison::ratio) return "ratio";
    const bool truth = !kind.references.empty() && kind.references.front() == "true";
    return truth ? "error" : "difference";
}

std::optional<double> compared(const QuantityKind& kind, const Quantity& quantity) {
    if (kind.comparison == Comparison::none || !quantity.value || quantity.references.empty()) return std::nullopt;
    const auto& reference = quantity.references.front();
    if (!reference || !std::isfinite(*reference)) return std::nullopt;
    if (kind.comparison == Comparison::difference) return *quantity.value - *reference;
    return *reference != 0.0 ? std::optional(*quantity.value / *reference) : std::nullopt;
}

}  // namespace echoloom
