#pragma once
/// Pixels of an image inside and around outlines of its truth, with their positions, and the removal of slopes of
/// brightness from them.

#include <functional>
#include <span>
#include <vector>

#include "recon/image/image.h"

namespace echoloom {

/// One pixel at its true position: a wrong assumed sound speed is corrected.
struct RegionPixel {
    std::size_t column = 0, depth = 0;
    double x_m = 0.0, z_m = 0.0;
    double envelope = 0.0;
    double area_m2 = 0.0;
};

/// Whether a place in the image plane lies in an outline that is grown (or, negative, shrunk) by so much on every side.
/// Round shapes are smaller off their middle plane.
bool inside_outline(const TrueRegion& region, double x_m, double z_m, double grow_x_m = 0.0, double grow_z_m = 0.0);

/// Pixels for which `wanted` holds, in the image's order.
std::vector<RegionPixel> pixels_where(const Image& image, const std::function<bool(double x_m, double z_m)>& wanted);

double area_of(std::span<const RegionPixel> pixels);

/// A trend of the logarithm of the envelope over position: least squares, terms x, z and, if asked, their squares. Only
/// the shape: the mean of the fitted trend over the pixels is zero. Groups may differ in level: a shared trend is
/// fitted to all of them.
class Trend {
  public:
    Trend(std::span<const std::vector<RegionPixel>* const> groups, bool squares);
    /// Divides the trend out of the envelopes.
    void flatten(std::vector<RegionPixel>& pixels) const;

  private:
    std::vector<double> terms(double x_m, double z_m) const;
    bool squares_;
    double middle_x_m_ = 0.0, middle_z_m_ = 0.0, half_x_m_ = 1.0, half_z_m_ = 1.0;
    std::vector<double> slopes_;
    double mean_ = 0.0;
};

}  // namespace echoloom
