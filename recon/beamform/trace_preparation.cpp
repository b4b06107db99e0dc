#include "recon/beamform/trace_preparation.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include "recon/beamform/taps.h"
#include "sim/base/text.h"

namespace echoloom {
namespace {

/// Rows are an odd count of cache lines long: equal positions in all rows then spread over the whole cache.
std::size_t row_length(std::size_t samples) {
    constexpr std::size_t cache_line_floats = 16;
    const std::size_t lines = (samples + cache_line_floats - 1) / cache_line_floats;
    return (lines | 1U) * cache_line_floats;
}

/// Where low frequencies are cut, the padding passes from the trace's end to its start within a period of the lowest
/// that is let through, so that the passage itself is cut.
std::size_t padding(const HighPass& cut, std::size_t samples) {
    if (cut.none()) {
        return TracePadding::usual;
    }
    const double period = std::min(std::ceil(1.0 / cut.nothing_below), static_cast<double>(samples));
    return std::max(TracePadding::usual, static_cast<std::size_t>(period));
}

/// Length of the bank's rows. Throws InputError where a place in the bank would not fit 32 bits, or the length of a
/// transform at twice the rate an int.
std::size_t checked_row_length(const RecordingInfo& info, const Recipe& recipe, std::size_t factor,
                               std::size_t floats_per_sample) {
    constexpr std::size_t max_places = std::numeric_limits<std::uint32_t>::max();
    constexpr std::size_t max_length = std::numeric_limits<int>::max();
    const auto fits = [&] {
        if (info.samples > max_length / 2) {
            return false;
        }
        const std::size_t padded = smooth_length(info.samples + padding(high_pass(recipe, info), info.samples));
        const std::size_t row = row_length(2 * TracePreparation::silence + info.samples * factor);
        return padded <= max_length / 2 &&
               row * floats_per_sample <= max_places / std::max<std::size_t>(1, info.channels);
    };
    if (!fits()) {
        throw InputError(plain(static_cast<double>(info.channels)) + " channels of " +
                         plain(static_cast<double>(info.samples)) +
                         " samples are more than an image can be formed from; record fewer channels or less depth");
    }
    return row_length(2 * TracePreparation::silence + info.samples * factor);
}

std::variant<TraceTransform, Demodulation> transform_of(const RecordingInfo& info, const Recipe& recipe, bool apart,
                                                        int factor) {
    const HighPass cut = high_pass(recipe, info);
    const std::size_t behind = padding(cut, info.samples);
    if (apart && recipe.interpolation == Interpolation::upsampled) {
        return Demodulation(info.samples, info.probe.center_Hz / info.sampling_rate_Hz, behind, cut);
    }
    return TraceTransform(info.samples, factor, apart ? TraceTransform::Output::apart : TraceTransform::Output::real,
                          behind, cut);
}

}  // namespace

TracePreparation::TracePreparation(const RecordingInfo& info, const Recipe& recipe, Form form)
    : apart_(form == Form::pixels),
      factor_(apart_ ? 1 : upsampling_factor(recipe.interpolation)),
      samples_(info.samples * static_cast<std::size_t>(factor_)),
      row_samples_(checked_row_length(info, recipe, static_cast<std::size_t>(factor_), apart_ ? 2 : 1)),
      copy_only_(!apart_ && factor_ == 1 && high_pass(recipe, info).none()),
      transform_(transform_of(info, recipe, apart_, factor_)) {}

TracePreparation::Workspace TracePreparation::workspace() const {
    return std::visit(
        [](const auto& transform) -> Workspace {
            return typename std::decay_t<decltype(transform)>::Workspace(transform);
        },
        transform_);
}

double TracePreparation::carrier() const {
    const auto* demodulation = std::get_if<Demodulation>(&transform_);
    return demodulation != nullptr ? demodulation->carrier() : 0.0;
}

void TracePreparation::prepare(std::span<const float> trace, std::span<float> row, Workspace& workspace) const {
    if (copy_only_) {
        std::ranges::copy(trace, row.begin() + silence);
    } else if (const auto* demodulation = std::get_if<Demodulation>(&transform_)) {
        demodulation->run(trace, row.subspan(silence), row.subspan(row_samples_ + silence),
                          std::get<Demodulation::Workspace>(workspace));
    } else {
        std::get<TraceTransform>(transform_)
            .run(trace, row.subspan(silence), std::get<TraceTransform::Workspace>(workspace), row_samples_);
    }
    for (std::size_t part = 0; part < row_floats(); part += row_samples_) {
        std::ranges::fill(row.subspan(part, silence), 0.0F);
        std::ranges::fill(row.subspan(part + silence + samples_, row_samples_ - silence - samples_), 0.0F);
    }
}

}  // namespace echoloom
