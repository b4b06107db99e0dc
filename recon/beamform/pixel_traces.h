#pragma once
/// The traces of some events, made ready for the sum over pixels.
///
/// In a full matrix the echo of element i on j and that of j on i reach any pixel at the same delay. Where both count
/// alike they are added before anything else is done with them: half the traces, half the sum.

#include "recon/beamform/beamform.h"
#include "recon/beamform/event_weights.h"
#include "recon/beamform/tile_sum.h"
#include "recon/beamform/trace_preparation.h"
#include "sim/base/large_vector.h"

namespace echoloom {

/// True for a full matrix whose two halves can be added: all elements receive and fire in one order, at the same time,
/// without delays of their own, are focused dynamically and weighted by one rule.
bool folds(const RecordingInfo& info, const Recipe& recipe, const EventWeights& weights);

class PixelTraces {
  public:
    /// Holds as many events at a time as 1 GiB allows, but one at least; all of a matrix that is to be folded, if 2 GiB
    /// allow that.
    PixelTraces(const RecordingInfo& info, const Recipe& recipe, bool folded);

    bool folded() const { return folded_; }
    std::size_t max_events() const { return max_events_; }
    /// Reads and prepares events; on all threads.
    void load(const EventReader& read_event, std::size_t first_event, std::size_t count);

    /// Sample 0 of a trace; `event` of those that are loaded. Folded: event <= channel.
    const float* trace(std::size_t event, std::size_t channel) const {
        return bank_.data() + row(event, channel) * preparation_.row_floats() + TracePreparation::silence;
    }
    std::size_t to_imaginary() const { return preparation_.to_imaginary(); }
    std::size_t samples() const { return preparation_.trace_samples(); }
    double carrier() const { return preparation_.carrier(); }

  private:
    std::size_t row(std::size_t event, std::size_t channel) const {
        return folded_ ? channel * (channel + 1) / 2 + event : event * channels_ + channel;
    }
    void fold(std::size_t first_event, std::size_t count);
    std::span<float> bank_row(std::size_t row) {
        return std::span(bank_).subspan(row * preparation_.row_floats(), preparation_.row_floats());
    }
    void prepare(std::size_t first_row, std::size_t rows);

    std::size_t channels_, event_samples_, trace_length_;
    bool folded_;
    TracePreparation preparation_;
    std::size_t max_events_, max_read_;
    LargeVector<float> bank_;                              ///< [row]
    LargeVector<float> recorded_;                          ///< [event of those read together, channel, sample]
    std::vector<TracePreparation::Workspace> workspaces_;  ///< [thread]
};

}  // namespace echoloom
