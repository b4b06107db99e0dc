#include "recon/beamform/line_table.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include "recon/beamform/tile_weights.h"

namespace echoloom {
namespace {

/// Of these many geometries before it, an event may share one.
constexpr std::size_t remembered = 4;
/// Positions along a line are rounded to 1/512 sample: at twice 40 MHz that is 24 ps, 0.02 % of an echo at 7 MHz.
constexpr double line_steps = 512.0;
constexpr double min_sum = 1e-12;  // of weights that are to sum to one
constexpr std::size_t no_geometry = std::numeric_limits<std::size_t>::max();

}  // namespace

LineGeometry line_geometry(const RecordingInfo& info, const ElementPlaces& places, const TransmitEvent& event) {
    const LineStart start = line_start(info, event);
    LineGeometry geometry{start.direction, event.start_time_s, {}, {}, {}};
    for (const int receiver : event.receivers) {
        const auto element = static_cast<std::size_t>(receiver);
        geometry.receivers_m.push_back(places.center_m[element] - start.origin_m);
        geometry.lateral_m.push_back(places.lateral_m[element] - start.lateral_m);
    }
    if (info.probe.elements.front().is_ring()) {
        geometry.rings = event.receivers;
    }
    if (info.probe.radius_m > 0.0) {
        const LineFrame frame(start);
        std::ranges::transform(geometry.receivers_m, geometry.receivers_m.begin(),
                               [&](const Vec3& receiver) { return frame.turned(receiver); });
        geometry.direction = Vec3::UnitZ();
    }
    return geometry;
}

bool LineGeometry::same_as(const LineGeometry& other) const {
    return receivers_m.size() == other.receivers_m.size() && (direction - other.direction).norm() < 1e-9 &&
           std::abs(start_time_s - other.start_time_s) < 1e-15 &&
           std::ranges::equal(receivers_m, other.receivers_m,
                              [](const Vec3& a, const Vec3& b) { return (a - b).squaredNorm() < 1e-18; }) &&
           std::ranges::equal(lateral_m, other.lateral_m, [](double a, double b) { return std::abs(a - b) < 1e-9; }) &&
           rings == other.rings;
}

LineGeometries line_geometries(const RecordingInfo& info) {
    LineGeometries geometries;
    const ElementPlaces places(info.probe);
    std::list<std::size_t> recent;  // last used first
    for (const TransmitEvent& event : info.events) {
        LineGeometry geometry = line_geometry(info, places, event);
        const auto found =
            std::ranges::find_if(recent, [&](std::size_t i) { return geometries.list[i].same_as(geometry); });
        if (found != recent.end()) {
            recent.splice(recent.begin(), recent, found);
        } else {
            recent.push_front(geometries.list.size());
            geometries.list.push_back(std::move(geometry));
            recent.resize(std::min(recent.size(), remembered));
        }
        geometries.of_event.push_back(recent.front());
    }
    return geometries;
}

void LineSetting::weigh(const LineGeometry& geometry, double width_m, std::span<float> weights) const {
    if (geometry.rings.empty()) {
        aperture.weigh(width_m, geometry.lateral_m, normalize, weights);
    } else {
        aperture.weigh_rings(width_m, geometry.rings, normalize, weights);
    }
}

std::size_t LineSetting::padded_depths() const {
    return (depth_m.size() + tile_lanes() - 1) / tile_lanes() * tile_lanes();
}

std::size_t LineSetting::table_bytes(std::size_t channels) const {
    return channels * (padded_depths() * 2 * sizeof(float) + sizeof(TileRow));
}

LineTables::LineTables(const LineSetting& setting, std::size_t channels, std::size_t max_tables)
    : setting_(setting),
      recent_(max_tables),
      points_(setting.padded_depths()),
      width_m_(setting.padded_depths()),
      sums_(setting.padded_depths()) {
    for (Entry& entry : recent_) {
        entry.geometry = no_geometry;
        entry.table.channels.assign(channels, TileRow(setting.padded_depths()));
    }
    for (std::size_t d = 0; d < width_m_.size(); ++d) {
        width_m_[d] = setting.aperture.width_m(setting.depth_m[std::min(d, setting.depth_m.size() - 1)]);
    }
}

const LineTable& LineTables::for_line(std::size_t index, const LineGeometry& geometry) {
    const auto found = std::ranges::find(recent_, index, &Entry::geometry);
    if (found != recent_.end()) {
        recent_.splice(recent_.begin(), recent_, found);
        return recent_.front().table;
    }
    recent_.splice(recent_.begin(), recent_, std::prev(recent_.end()));
    recent_.front().geometry = index;
    fill(recent_.front().table, geometry);
    return recent_.front().table;
}

void LineTables::fill(LineTable& table, const LineGeometry& geometry) {
    fill_points(geometry);
    fill_weights(table, geometry);
    const std::size_t vectors = width_m_.size() / tile_lanes();
    const double samples_per_m = setting_.samples_per_s / setting_.sound_speed_m_s;
    for (std::size_t channel = 0; channel < table.channels.size(); ++channel) {
        TileRow& row = table.channels[channel];
        find_range(vectors, row);
        find_positions(points_,
                       {.from_m = geometry.receivers_m[channel],
                        .samples_per_m = samples_per_m,
                        .extra_samples = -geometry.start_time_s * setting_.samples_per_s,
                        .steps_per_sample = line_steps},
                       vectors, row);
    }
}

/// Where each depth's echo is taken to come from; the way there, and what the way back from the focus lacks, are added.
void LineTables::fill_points(const LineGeometry& geometry) {
    for (std::size_t d = 0; d < width_m_.size(); ++d) {
        const double depth = setting_.depth_m[std::min(d, setting_.depth_m.size() - 1)];
        const double focus_depth = setting_.focus.depth_m(depth);
        points_.set(d, focus_depth * geometry.direction, depth + (depth - focus_depth));
    }
}

void LineTables::fill_weights(LineTable& table, const LineGeometry& geometry) {
    std::vector<float> rings(geometry.rings.size());
    for (std::size_t channel = 0; rings.empty() && channel < table.channels.size(); ++channel) {
        find_weights_along(setting_.aperture, width_m_, geometry.lateral_m[channel], table.channels[channel]);
    }
    for (std::size_t d = 0; !rings.empty() && d < width_m_.size(); ++d) {
        setting_.aperture.weigh_rings(width_m_[d], geometry.rings, false, rings);
        for (std::size_t channel = 0; channel < rings.size(); ++channel) {
            table.channels[channel].weight[d] = rings[channel];
        }
    }
    if (!setting_.normalize) {
        return;
    }
    std::ranges::fill(sums_, 0.0);
    for (const TileRow& row : table.channels) {
        for (std::size_t d = 0; d < sums_.size(); ++d) {
            sums_[d] += static_cast<double>(row.weight[d]);
        }
    }
    for (double& sum : sums_) {
        sum = std::abs(sum) > min_sum ? 1.0 / sum : 1.0;
    }
    for (TileRow& row : table.channels) {
        for (std::size_t d = 0; d < sums_.size(); ++d) {
            row.weight[d] *= static_cast<float>(sums_[d]);
        }
    }
}

}  // namespace echoloom
