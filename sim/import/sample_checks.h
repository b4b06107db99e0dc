#pragma once
/// What a glance at every sample shows: elements that are dead, peaks cut flat, offsets, the band.

#include <optional>
#include <span>
#include <vector>

#include "sim/recording/recording.h"

namespace echoloom {

/// One element's samples over all events in which it was recorded.
struct ElementLevel {
    int element = 0;
    double rms = 0.0;  ///< about the mean
    double mean = 0.0;
};

/// Peaks that are cut flat: samples at the end of the number type's range, or three neighbours, or two more than once,
/// at the recording's own largest or smallest value. (Two beside a round peak may be equal by chance, once.)
struct Clipping {
    std::size_t traces = 0;  ///< of one event and channel
    double at = 0.0;         ///< the value they are flat at, by magnitude
    double first_s = 0.0, last_s = 0.0;
};

struct SampleChecks {
    std::size_t traces = 0;
    double least = 0.0, most = 0.0;
    double median_rms = 0.0;             ///< of elements
    std::vector<ElementLevel> elements;  ///< that were recorded, by index
    std::vector<ElementLevel> dead;      ///< 40 dB and more below the median
    std::vector<ElementLevel> weak;      ///< 20 dB and more below it
    std::optional<Clipping> clipping;
    double worst_offset = 0.0;  ///< largest |mean| over rms of the elements that are not dead
    int worst_offset_element = 0;
    std::optional<double> center_Hz;  ///< power-weighted, of some traces; empty where there is nothing
};

/// Levels from which an element is called dead or weak: common practice, no source.
inline constexpr double dead_below = 0.01;
inline constexpr double weak_below = 0.1;

class SampleWatch {
  public:
    /// `type_limit`: the largest magnitude a whole number of the samples' type can have; 0 for real numbers.
    SampleWatch(const RecordingInfo& info, double type_limit);
    /// Samples [channel, sample] of one event.
    void take(std::size_t event, std::span<const float> samples);
    SampleChecks finish() const;

  private:
    struct Sums {
        double count = 0.0, sum = 0.0, squares = 0.0;
    };
    /// Traces flat at one end of the range seen so far.
    struct End {
        float value = 0.0F;
        std::size_t traces = 0;
        std::size_t repeats = 0;  ///< samples equal to the one before
        double first_s = 0.0, last_s = 0.0;
    };
    void watch_end(std::size_t event, std::span<const float> trace, float sign, End& end) const;
    double center_Hz() const;

    const RecordingInfo& info_;
    double type_limit_;
    std::vector<Sums> sums_;                ///< [element]
    End high_, low_;                        ///< low_ with the sign turned
    std::vector<std::vector<float>> kept_;  ///< traces for the band
    std::size_t keep_every_;
    std::size_t taken_ = 0;
};

}  // namespace echoloom
