#include <algorithm>
#include <cmath>

#include "phantoms/phantom.h"
#include "sim/base/random.h"

namespace echoloom {

namespace {

using Take = std::function<void(std::span<const Scatterer>)>;

/// Hands scatterers on in spans, so that a call through std::function is paid once for many.
class Batch {
  public:
    explicit Batch(const Take& take) : take_(take) { scatterers_.reserve(size); }

    void add(const Scatterer& scatterer) {
        scatterers_.push_back(scatterer);
        if (scatterers_.size() == size) {
            flush();
        }
    }

    void flush() {
        if (!scatterers_.empty()) {
            take_(scatterers_);
            scatterers_.clear();
        }
    }

  private:
    static constexpr std::size_t size = 4096;
    const Take& take_;
    std::vector<Scatterer> scatterers_;
};

bool inside(double value, double least, double most) {
    return value >= least && value < most;
}

bool misses(const Box& window, const Box& box) {
    return (box.most.array() < window.least.array()).any() || (box.least.array() >= window.most.array()).any();
}

void add_target(const FixedTarget& target, const Box& window, Batch& batch) {
    const Vec3& center = target.center_m;
    if (!inside(center.x(), window.least.x(), window.most.x()) ||
        !inside(center.z(), window.least.z(), window.most.z())) {
        return;
    }
    const double piece_m = 2.0 * target.half_length_m / static_cast<double>(target.count);
    for (std::size_t i = 0; i < target.count; ++i) {
        const double y = center.y() - target.half_length_m + (static_cast<double>(i) + 0.5) * piece_m;
        if (inside(y, window.least.y(), window.most.y())) {
            batch.add({center.x(), y, center.z(), target.strength_m});
        }
    }
}

/// How strong a region's scatterers are where: its inclusions, the one that counts first.
class Strengths {
  public:
    explicit Strengths(const SpeckleRegion& region) : outside_m_(region.strength_m) {
        for (auto inclusion = region.inclusions.rbegin(); inclusion != region.inclusions.rend(); ++inclusion) {
            inside_.push_back({inclusion->shape, region.strength_m * std::pow(10.0, inclusion->contrast_dB / 20.0)});
        }
    }

    double at(double x, double y, double z) const {
        for (const Part& part : inside_) {
            if (part.shape.contains(x, y, z)) {
                return part.strength_m;
            }
        }
        return outside_m_;
    }

  private:
    struct Part {
        Shape shape;
        double strength_m;
    };
    double outside_m_;
    std::vector<Part> inside_;
};

void add_region(const SpeckleRegion& region, std::uint64_t seed, const Box& window, Batch& batch) {
    if (misses(window, region.shape.box())) {
        return;
    }
    const CounterRandom random(seed, region.stream);
    const Strengths strengths(region);
    const Vec3 center = region.shape.center_m;
    const Vec3 half = region.shape.half_size_m;
    const std::uint64_t count = region.candidate_count();
    // Four random values belong to each candidate: x, y, z and the sign. Depth is drawn first, since the windows of
    // large phantoms are layers: most candidates end there.
    for (std::uint64_t first = 0; first < 4 * count; first += 4) {
        const auto place = [&](std::uint64_t axis, double middle, double reach) {
            return middle + reach * (2.0 * random.uniform(first + axis) - 1.0);
        };
        const double z = place(2, center.z(), half.z());
        if (!inside(z, window.least.z(), window.most.z())) {
            continue;
        }
        const double x = place(0, center.x(), half.x());
        const double y = place(1, center.y(), half.y());
        if (!inside(x, window.least.x(), window.most.x()) || !inside(y, window.least.y(), window.most.y()) ||
            !region.shape.contains(x, y, z)) {
            continue;
        }
        const double strength = strengths.at(x, y, z);
        if (strength != 0.0) {
            const bool negative = (random.bits(first + 3) >> 63) != 0;
            batch.add({x, y, z, negative ? -strength : strength});
        }
    }
}

void add_panels(const Sheet& sheet, std::uint64_t seed, const Box& window, Batch& batch) {
    if (misses(window, sheet.box())) {
        return;
    }
    const CounterRandom random(seed, sheet.stream);
    const Vec3 slope = sheet.slope();
    const std::uint64_t count = sheet.candidate_count();
    // Three random values belong to each candidate: along the slope, across it and the sign.
    for (std::uint64_t first = 0; first < 3 * count; first += 3) {
        const double up_slope_m = sheet.half_length_m * (2.0 * random.uniform(first) - 1.0);
        const double y = sheet.center_m.y() + up_slope_m * slope.y();
        const double z = sheet.center_m.z() + up_slope_m * slope.z();
        const double x = sheet.center_m.x() + sheet.half_width_m * (2.0 * random.uniform(first + 1) - 1.0);
        if (inside(z, window.least.z(), window.most.z()) && inside(x, window.least.x(), window.most.x()) &&
            inside(y, window.least.y(), window.most.y())) {
            const bool negative = (random.bits(first + 2) >> 63) != 0;
            batch.add({x, y, z, negative ? -sheet.strength_m : sheet.strength_m});
        }
    }
}

}  // namespace

void for_each_scatterer(const Phantom& phantom, const Box& window, const Take& take) {
    Batch batch(take);
    for (const FixedTarget& target : phantom.targets) {
        add_target(target, window, batch);
    }
    for (const SpeckleRegion& region : phantom.regions) {
        add_region(region, phantom.seed, window, batch);
    }
    for (const Sheet& sheet : phantom.sheets) {
        add_panels(sheet, phantom.seed, window, batch);
    }
    batch.flush();
}

}  // namespace echoloom
