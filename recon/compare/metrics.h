#pragma once
/// Every number that `measure` tells of an image, each under one name and at one place, so that two images can be held
/// against each other.

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
    std::string aimed_at;  ///< where places come from, if not from the truth; in words
};

/// Metrics of both. Where the recording before knows no targets, bright points are found in the image before, and both
/// are measured there. Empty where there is nothing to measure.
MetricPair metrics_of_both(const Image& before, const Image& after);

}  // namespace echoloom
