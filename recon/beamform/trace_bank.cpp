#include "recon/beamform/trace_bank.h"

#include <omp.h>

#include <algorithm>

#include "recon/beamform/taps.h"

namespace echoloom {
namespace {

/// Rows are an odd count of cache lines long: equal positions in all rows then spread over the whole cache.
std::size_t row_length(std::size_t samples, std::size_t floats_per_sample) {
    constexpr std::size_t cache_line_floats = 16;
    const std::size_t lines = (samples * floats_per_sample + cache_line_floats - 1) / cache_line_floats;
    return (lines | 1U) * cache_line_floats / floats_per_sample;
}

}  // namespace

TraceBank::TraceBank(std::size_t channels, std::size_t samples, Interpolation interpolation, Form form)
    : channels_(channels),
      samples_(samples),
      floats_per_sample_(form == Form::analytic ? 2 : 1),
      row_samples_(row_length(2 * silence + samples * static_cast<std::size_t>(upsampling_factor(interpolation)),
                              floats_per_sample_)),
      copy_only_(form == Form::real && upsampling_factor(interpolation) == 1),
      transform_(samples, upsampling_factor(interpolation), form),
      data_(channels * row_samples_ * floats_per_sample_, 0.0F) {
    for (int thread = 0; thread < omp_get_max_threads(); ++thread) {
        workspaces_.emplace_back(transform_);
    }
}

void TraceBank::load(std::span<const float> samples) {
    const auto threads = static_cast<int>(workspaces_.size());
#pragma omp parallel for schedule(static) num_threads(threads)
    for (std::size_t channel = 0; channel < channels_; ++channel) {
        const auto trace = samples.subspan(channel * samples_, samples_);
        const auto row = std::span(data_).subspan((channel * row_samples_ + silence) * floats_per_sample_,
                                                  transform_.output_samples() * floats_per_sample_);
        if (copy_only_) {
            std::ranges::copy(trace, row.begin());
        } else {
            transform_.run(trace, row, workspaces_[static_cast<std::size_t>(omp_get_thread_num())]);
        }
    }
}

}  // namespace echoloom
