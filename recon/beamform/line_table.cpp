#include "recon/beamform/line_table.h"

#include <algorithm>
#include <cmath>

namespace echoloom {
namespace {

/// Terms of one depth, appended to `terms`. A position that falls outside the recorded trace adds nothing.
void append_terms(const LineSetting& setting, const LineGeometry& geometry, double depth_m,
                  std::span<const float> weights, std::vector<LineTerm>& terms) {
    constexpr auto silence = static_cast<double>(TraceBank::silence);
    const double last = static_cast<double>(setting.row_samples) - silence;
    for (std::size_t channel = 0; channel < geometry.listeners_m.size(); ++channel) {
        if (weights[channel] == 0.0F) {
            continue;
        }
        const double path =
            depth_m + setting.focus.path_m(Vec3::Zero(), geometry.direction, depth_m, geometry.listeners_m[channel]);
        const double time = path / setting.sound_speed_m_s - geometry.start_time_s;
        const double position = time * setting.samples_per_s + silence;
        if (position < silence - 1.0 || position > last) {
            continue;
        }
        const auto fixed = static_cast<std::uint64_t>(std::llround(position * phases));
        terms.push_back({static_cast<std::uint32_t>(channel * setting.row_samples + (fixed >> phase_bits) - 1),
                         static_cast<std::uint32_t>(fixed & (phases - 1)), weights[channel]});
    }
}

}  // namespace

bool LineGeometry::same_as(const LineGeometry& other) const {
    return listeners_m.size() == other.listeners_m.size() && (direction - other.direction).norm() < 1e-9 &&
           std::abs(start_time_s - other.start_time_s) < 1e-15 &&
           std::ranges::equal(listeners_m, other.listeners_m,
                              [](const Vec3& a, const Vec3& b) { return (a - b).squaredNorm() < 1e-18; });
}

LineTable make_line_table(const LineSetting& setting, const LineGeometry& geometry) {
    const std::size_t channels = geometry.listeners_m.size();
    const std::size_t depths = setting.depth_m->size();
    std::vector<double> offsets(channels);
    std::ranges::transform(geometry.listeners_m, offsets.begin(), [](const Vec3& listener) { return listener.x(); });

    // Depths are independent; each block of them is filled by one thread and the blocks are joined in order.
    constexpr std::size_t block = 64;
    const std::size_t blocks = (depths + block - 1) / block;
    std::vector<LineTable> parts(blocks);
#pragma omp parallel for schedule(static)
    for (std::size_t b = 0; b < blocks; ++b) {
        std::vector<float> weights(channels);
        double width = -1.0;
        for (std::size_t d = b * block; d < std::min(depths, (b + 1) * block); ++d) {
            const double depth = (*setting.depth_m)[d];
            if (setting.aperture.width_m(depth) != width) {
                width = setting.aperture.width_m(depth);
                setting.aperture.weigh(width, offsets, setting.recipe->normalize_depth, weights);
            }
            parts[b].first.push_back(parts[b].terms.size());
            append_terms(setting, geometry, depth, weights, parts[b].terms);
        }
    }
    LineTable table;
    for (const LineTable& part : parts) {
        for (const std::size_t first : part.first) {
            table.first.push_back(table.terms.size() + first);
        }
        table.terms.insert(table.terms.end(), part.terms.begin(), part.terms.end());
    }
    table.first.push_back(table.terms.size());
    return table;
}

const LineTable& LineTables::for_line(LineGeometry geometry) {
    const auto found = std::ranges::find_if(recent_, [&](const auto& entry) { return entry.first.same_as(geometry); });
    if (found != recent_.end()) {
        recent_.splice(recent_.begin(), recent_, found);
        return recent_.front().second;
    }
    if (recent_.size() == kept) {
        recent_.pop_back();
    }
    LineTable table = make_line_table(setting_, geometry);
    recent_.emplace_front(std::move(geometry), std::move(table));
    return recent_.front().second;
}

}  // namespace echoloom
