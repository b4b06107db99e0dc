#include "recon/beamform/trace_bank.h"

#include <omp.h>

#include <algorithm>

#include "recon/beamform/taps.h"

namespace echoloom {

TraceBank::TraceBank(std::size_t channels, std::size_t samples, Interpolation interpolation, Form form)
    : channels_(channels),
      samples_(samples),
      floats_per_sample_(form == Form::analytic ? 2 : 1),
      row_samples_(2 * silence + samples * static_cast<std::size_t>(upsampling_factor(interpolation))),
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
                                                  (row_samples_ - 2 * silence) * floats_per_sample_);
        if (copy_only_) {
            std::ranges::copy(trace, row.begin());
        } else {
            transform_.run(trace, row, workspaces_[static_cast<std::size_t>(omp_get_thread_num())]);
        }
    }
}

}  // namespace echoloom
