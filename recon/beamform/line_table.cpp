#include "recon/beamform/line_table.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include "recon/beamform/trace_preparation.h"

namespace echoloom {
namespace {

/// Of these many geometries before it, an event may share one.
constexpr std::size_t remembered = 4;
constexpr std::size_t no_geometry = std::numeric_limits<std::size_t>::max();

/// Terms of one depth, appended to `terms`. A position that falls outside the recorded trace adds nothing.
void append_terms(const LineSetting& setting, const LineGeometry& geometry, double depth_m,
                  std::span<const float> weights, std::vector<LineTerm>& terms) {
    constexpr auto silence = static_cast<double>(TracePreparation::silence);
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

LineGeometry line_geometry(const RecordingInfo& info, const ElementPlaces& places, const TransmitEvent& event) {
    const LineStart start = line_start(info, event);
    LineGeometry geometry{start.direction, event.start_time_s, {}, {}, {}};
    for (const int listener : event.listeners) {
        const auto element = static_cast<std::size_t>(listener);
        geometry.listeners_m.push_back(places.center_m[element] - start.origin_m);
        geometry.along_m.push_back(places.along_m[element] - start.along_m);
    }
    if (info.probe.elements.front().is_ring()) {
        geometry.rings = event.listeners;
    }
    if (info.probe.radius_m > 0.0) {
        const LineFrame frame(start);
        std::ranges::transform(geometry.listeners_m, geometry.listeners_m.begin(),
                               [&](const Vec3& listener) { return frame.turned(listener); });
        geometry.direction = Vec3::UnitZ();
    }
    return geometry;
}

bool LineGeometry::same_as(const LineGeometry& other) const {
    return listeners_m.size() == other.listeners_m.size() && (direction - other.direction).norm() < 1e-9 &&
           std::abs(start_time_s - other.start_time_s) < 1e-15 &&
           std::ranges::equal(listeners_m, other.listeners_m,
                              [](const Vec3& a, const Vec3& b) { return (a - b).squaredNorm() < 1e-18; }) &&
           std::ranges::equal(along_m, other.along_m, [](double a, double b) { return std::abs(a - b) < 1e-9; }) &&
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
        aperture.weigh(width_m, geometry.along_m, normalize, weights);
    } else {
        aperture.weigh_rings(width_m, geometry.rings, normalize, weights);
    }
}

std::size_t LineSetting::most_table_bytes(std::size_t channels) const {
    return depth_m.size() * (channels * sizeof(LineTerm) + sizeof(std::size_t));
}

LineTables::LineTables(const LineSetting& setting, std::size_t channels, std::size_t most_tables)
    : setting_(setting), recent_(most_tables), weights_(channels) {
    for (Entry& entry : recent_) {
        entry.geometry = no_geometry;
        entry.table.first.reserve(setting.depth_m.size() + 1);
        entry.table.terms.reserve(setting.depth_m.size() * channels);
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
    table.first.clear();
    table.terms.clear();
    double width = -1.0;
    for (const double depth : setting_.depth_m) {
        if (setting_.aperture.width_m(depth) != width) {
            width = setting_.aperture.width_m(depth);
            setting_.weigh(geometry, width, weights_);
        }
        table.first.push_back(table.terms.size());
        append_terms(setting_, geometry, depth, weights_, table.terms);
    }
    table.first.push_back(table.terms.size());
}

}  // namespace echoloom
