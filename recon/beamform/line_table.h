#pragma once
/// What each channel adds to each depth of a line: where in its trace, and with what weight.

#include <list>
#include <vector>

#include "recon/beamform/aperture.h"
#include "recon/beamform/receive_focus.h"
#include "recon/beamform/sum_kernels.h"
#include "recon/beamform/trace_bank.h"

namespace echoloom {

/// Everything a line's table depends on.
struct LineGeometry {
    Vec3 direction;
    double start_time_s = 0.0;
    std::vector<Vec3> listeners_m;  ///< [channel] from the line's origin

    /// To within a nanometre and a femtosecond, far below the rounding of a delay.
    bool same_as(const LineGeometry& other) const;
};

struct LineTable {
    std::vector<std::size_t> first;  ///< [depth + 1] where each depth's terms begin
    std::vector<LineTerm> terms;

    std::span<const LineTerm> at(std::size_t depth) const {
        return std::span(terms).subspan(first[depth], first[depth + 1] - first[depth]);
    }
};

/// How traces lie in the bank and what the recipe asks, the same for all lines.
struct LineSetting {
    const Recipe* recipe;
    const std::vector<double>* depth_m;
    double sound_speed_m_s;
    double samples_per_s;     ///< of the bank's traces
    std::size_t row_samples;  ///< of the bank
    Aperture aperture;
    ReceiveFocus focus;
};

LineTable make_line_table(const LineSetting& setting, const LineGeometry& geometry);

/// The tables used last; like lines follow each other, so a few are enough.
class LineTables {
  public:
    explicit LineTables(LineSetting setting) : setting_(std::move(setting)) {}
    const LineTable& for_line(LineGeometry geometry);

  private:
    static constexpr std::size_t kept = 4;
    LineSetting setting_;
    std::list<std::pair<LineGeometry, LineTable>> recent_;  ///< last used first
};

}  // namespace echoloom
