#include "recon/beamform/trace_preparation.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include "recon/beamform/taps.h"
#include "sim/base/text.h"

namespace echoloom {
namespace {

/// Rows are an odd count of cache lines long: equal positions in all rows then spread over the whole cache.
std::size_t row_length(std::size_t samples, std::size_t floats_per_sample) {
    constexpr std::size_t cache_line_floats = 16;
    const std::size_t lines = (samples * floats_per_sample + cache_line_floats - 1) / cache_line_floats;
    return (lines | 1U) * cache_line_floats / floats_per_sample;
}

/// Where low frequencies are cut, the padding passes from the trace's end to its start within a period of the lowest
/// that is let through, so that the passage itself is cut.
std::size_t padding(const LowCut& cut, std::size_t samples) {
    if (cut.none()) {
        return TraceTransform::usual_padding;
    }
    const double period = std::min(std::ceil(1.0 / cut.nothing_below), static_cast<double>(samples));
    return std::max(TraceTransform::usual_padding, static_cast<std::size_t>(period));
}

/// Length of the bank's rows. Throws InputError where a place in the bank would not fit 32 bits, or the length of a
/// transform an int.
std::size_t checked_row_length(const RecordingInfo& info, const Recipe& recipe, std::size_t floats_per_sample) {
    constexpr std::size_t most_places = std::numeric_limits<std::uint32_t>::max();
    constexpr std::size_t most_length = std::numeric_limits<int>::max();
    const auto factor = static_cast<std::size_t>(upsampling_factor(recipe.interpolation));
    const auto fits = [&] {
        if (info.samples > most_length / factor) {
            return false;
        }
        const std::size_t padded = smooth_length(info.samples + padding(low_cut(recipe, info), info.samples));
        const std::size_t row = row_length(2 * TracePreparation::silence + info.samples * factor, floats_per_sample);
        return padded <= most_length / factor && row <= most_places / std::max<std::size_t>(1, info.channels);
    };
    if (!fits()) {
        throw InputError(plain(static_cast<double>(info.channels)) + " channels of " +
                         plain(static_cast<double>(info.samples)) +
                         " samples are more than an image can be formed from; record fewer channels or less depth");
    }
    return row_length(2 * TracePreparation::silence + info.samples * factor, floats_per_sample);
}

}  // namespace

TracePreparation::TracePreparation(const RecordingInfo& info, const Recipe& recipe, Form form)
    : channels_(info.channels),
      samples_(info.samples),
      floats_per_sample_(form == Form::analytic ? 2 : 1),
      row_samples_(checked_row_length(info, recipe, floats_per_sample_)),
      copy_only_(form == Form::real && upsampling_factor(recipe.interpolation) == 1 && low_cut(recipe, info).none()),
      transform_(samples_, upsampling_factor(recipe.interpolation), form, padding(low_cut(recipe, info), samples_),
                 low_cut(recipe, info)) {}

void TracePreparation::prepare(std::size_t channel, std::span<const float> samples, std::span<float> bank,
                               Workspace& workspace) const {
    const auto trace = samples.subspan(channel * samples_, samples_);
    const auto row = bank.subspan((channel * row_samples_ + silence) * floats_per_sample_,
                                  transform_.output_samples() * floats_per_sample_);
    if (copy_only_) {
        std::ranges::copy(trace, row.begin());
    } else {
        transform_.run(trace, row, workspace);
    }
}

}  // namespace echoloom
