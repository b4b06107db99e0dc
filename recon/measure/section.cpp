#include "recon/measure/section.h"

#include <cmath>

namespace echoloom {

std::optional<double> compared(const QuantityKind& kind, const Quantity& quantity) {
    if (kind.comparison == Comparison::none || !quantity.value || quantity.theories.empty()) return std::nullopt;
    const auto& theory = quantity.theories.front();
    if (!theory || !std::isfinite(*theory)) return std::nullopt;
    if (kind.comparison == Comparison::difference) return *quantity.value - *theory;
    return *theory != 0.0 ? std::optional(*quantity.value / *theory) : std::nullopt;
}

}  // namespace echoloom
