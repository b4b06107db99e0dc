#pragma once
/// What each channel adds to each depth of a line: where in its trace, and with what weight.

#include <list>
#include <vector>

#include "recon/beamform/aperture.h"
#include "recon/beamform/array_places.h"
#include "recon/beamform/receive_focus.h"
#include "recon/beamform/tile.h"

namespace echoloom {

/// Everything a line's table depends on. Over a curved array it is seen in the line's own frame, so that lines along
/// its radii share what they have in common.
struct LineGeometry {
    Vec3 direction;
    double start_time_s = 0.0;
    std::vector<Vec3> receivers_m;  ///< [channel] from the line's origin
    std::vector<double> lateral_m;  ///< [channel] from the line's origin, along the face
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

/// A row for each channel, its vectors along depth; the last depth stands for those that fill the last vector.
struct LineTable {
    std::vector<TileRow> channels;
};

/// What the recipe asks, the same for all lines.
struct LineSetting {
    bool normalize;
    std::vector<double> depth_m;
    double sound_speed_m_s;
    double samples_per_s;  ///< of the traces that are summed
    Aperture aperture;
    ReceiveFocus focus;

    /// Weights of a line's channels in an aperture.
    void weigh(const LineGeometry& geometry, double width_m, std::span<float> weights) const;
    std::size_t padded_depths() const;  ///< whole vectors
    std::size_t table_bytes(std::size_t channels) const;
};

/// One thread's tables, those used last; like lines follow each other, so a few are enough. Memory is taken once.
class LineTables {
  public:
    LineTables(const LineSetting& setting, std::size_t channels, std::size_t max_tables);
    /// `index` tells geometries apart.
    const LineTable& for_line(std::size_t index, const LineGeometry& geometry);

  private:
    struct Entry {
        std::size_t geometry;
        LineTable table;
    };
    void fill(LineTable& table, const LineGeometry& geometry);
    void fill_weights(LineTable& table, const LineGeometry& geometry);
    void fill_points(const LineGeometry& geometry);

    const LineSetting& setting_;
    std::list<Entry> recent_;             ///< last used first
    TilePoints points_;                   ///< of the line, seen from its origin
    std::vector<double> width_m_, sums_;  ///< [padded depth]
};

}  // namespace echoloom
