#pragma once
/// What each channel adds to each depth of a line: where in its trace, and with what weight.

#include <list>
#include <vector>

#include "recon/beamform/aperture.h"
#include "recon/beamform/array_places.h"
#include "recon/beamform/receive_focus.h"
#include "recon/beamform/sum_kernels.h"

namespace echoloom {

/// Everything a line's table depends on. Over a curved array it is seen in the line's own frame, so that lines along
/// its radii share what they have in common.
struct LineGeometry {
    Vec3 direction;
    double start_time_s = 0.0;
    std::vector<Vec3> listeners_m;  ///< [channel] from the line's origin
    std::vector<double> along_m;    ///< [channel] from the line's origin, along the face
    std::vector<int> rings;         ///< [channel] which ring of an annular array; else empty

    /// To within a nanometre and a femtosecond, far below the rounding of a delay.
    bool same_as(const LineGeometry& other) const;
};

/// The geometries of all events, each kept once for events that follow each other.
struct LineGeometries {
    std::vector<LineGeometry> list;
    std::vector<std::size_t> of_event;  ///< [event] index in the list
};
LineGeometry line_geometry(const RecordingInfo& info, const ElementPlaces& places, const TransmitEvent& event);
LineGeometries line_geometries(const RecordingInfo& info);

struct LineTable {
    std::vector<std::size_t> first;  ///< [depth + 1] where each depth's terms begin
    std::vector<LineTerm> terms;

    std::span<const LineTerm> at(std::size_t depth) const {
        return std::span(terms).subspan(first[depth], first[depth + 1] - first[depth]);
    }
};

/// How traces lie in the bank and what the recipe asks, the same for all lines.
struct LineSetting {
    bool normalize;
    std::vector<double> depth_m;
    double sound_speed_m_s;
    double samples_per_s;     ///< of the bank's traces
    std::size_t row_samples;  ///< of the bank
    Aperture aperture;
    ReceiveFocus focus;

    /// Weights of a line's channels in an aperture.
    void weigh(const LineGeometry& geometry, double width_m, std::span<float> weights) const;
    std::size_t most_table_bytes(std::size_t channels) const;
};

/// One thread's tables, those used last; like lines follow each other, so a few are enough. Memory is taken once.
class LineTables {
  public:
    LineTables(const LineSetting& setting, std::size_t channels, std::size_t most_tables);
    /// `index` tells geometries apart.
    const LineTable& for_line(std::size_t index, const LineGeometry& geometry);

  private:
    struct Entry {
        std::size_t geometry;
        LineTable table;
    };
    void fill(LineTable& table, const LineGeometry& geometry);

    const LineSetting& setting_;
    std::list<Entry> recent_;  ///< last used first
    std::vector<float> weights_;
};

}  // namespace echoloom
