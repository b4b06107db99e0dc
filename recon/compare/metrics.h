#pragma once
/// Every number that `measure` gives for an image, each with a name and a place, so that two images can be compared.

#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "recon/image/image.h"

namespace echoloom {

struct Metric {
    std::string name;   ///< "points.lateral_6dB_mm", "regions.cnr": section and quantity, unit at the end
    std::string where;  ///< "x 0.00, depth 30.00 mm"; a region's name
    std::optional<double> value;
};

/// In the order of the report: points, then its sections. No place has two metrics of one name.
std::vector<Metric> image_metrics(const Image& image);

struct MetricPair {
    std::vector<Metric> before, after;
    std::string aimed_at;  ///< where positions come from, if not from the truth
};

/// Metrics of both. Where neither recording contains targets, bright points are detected in the image before, and both
/// images are measured there. Empty where there is nothing to measure.
MetricPair metrics_of_both(const Image& before, const Image& after);

}  // namespace echoloom
