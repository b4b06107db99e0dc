#pragma once
/// Delay-and-sum of scan lines.

#include <memory>

#include "recon/beamform/beamform.h"

namespace echoloom {

/// Traces held at a time, recorded ones and those made ready. More would gain nothing.
inline constexpr std::size_t usual_trace_bytes = std::size_t{64} << 20;

/// Forms lines from one recording after the other of the same scan; what depends on the scan alone is made once.
///
/// RF of each line, [line, depth]. Events are read in batches of at most `trace_bytes`, one event at least; the lines
/// of a batch are then formed side by side, each whole by one thread. Tables of delays and weights are kept for lines
/// whose channels sit the same way around their origin. The same bits for any batch and number of threads.
class LineSum {
  public:
    /// `info` must outlive it.
    LineSum(const RecordingInfo& info, const Recipe& recipe, LineGrid grid,
            std::size_t trace_bytes = usual_trace_bytes);
    ~LineSum();

    Beamformed form(const EventReader& read_event, bool quiet);
    /// From samples in memory, [event] of [channel, sample], to [line, depth].
    void form_from(std::span<const std::span<const float>> events, std::span<float> out);

  private:
    struct State;
    std::unique_ptr<State> state_;
};

/// The same for a single recording.
Beamformed sum_lines(const RecordingInfo& info, const EventReader& read_event, const Recipe& recipe, LineGrid grid,
                     bool quiet, std::size_t trace_bytes = usual_trace_bytes);

}  // namespace echoloom
