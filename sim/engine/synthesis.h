#pragma once
/// Any transmit event as a sum over rows of the full matrix: by linearity, channel r of an event receives
/// sum_e weight_e h_er(t - delay_e), with h_er the echo on r when e alone fires. Delays are applied to spectra,
/// exactly.

#include <memory>
#include <span>

#include "sim/engine/pair_record.h"

namespace echoloom {

class EventSynthesis {
  public:
    /// Transforms every pair's record. `highest_Hz` bounds the band that is kept.
    EventSynthesis(const PairRecord& record, const Scan& scan, double highest_Hz, int threads);
    ~EventSynthesis();
    EventSynthesis(const EventSynthesis&) = delete;
    EventSynthesis& operator=(const EventSynthesis&) = delete;

    /// Samples [event, channel, sample] of some events, side by side.
    void events(std::span<const TransmitEvent> events, std::span<float> samples);

    /// Events worth taking together: threads seldom wait for each other, and work space stays small.
    std::size_t events_together() const;

    static double memory_bytes(std::size_t pairs, std::size_t samples, double band_fraction);

  private:
    struct State;
    std::unique_ptr<State> state_;
};

/// Smallest length of at least `samples` that is a multiple of 16 and a product of 2, 3 and 5.
std::size_t transform_length(std::size_t samples);

}  // namespace echoloom
