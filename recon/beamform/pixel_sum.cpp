#include "recon/beamform/pixel_sum.h"

#include <omp.h>

#include <algorithm>
#include <cmath>
#include <complex>

#include "recon/beamform/event_weights.h"
#include "recon/beamform/receive_focus.h"
#include "recon/beamform/sum_kernels.h"
#include "recon/beamform/trace_bank.h"
#include "sim/base/progress.h"
#include "sim/base/text.h"

namespace echoloom {
namespace {

/// Neighbouring columns hear nearly the same stretch of each trace: swept together, depth by depth, they find it in the
/// cache.
constexpr std::size_t tile_columns = 16;
constexpr std::size_t batch_bytes = std::size_t{128} << 20;
constexpr std::size_t most_batch_events = 16;

/// Weights of one column, kept while the aperture's width stays the same.
struct ColumnWeights {
    double width_m = -1.0;
    std::vector<float> receive;   ///< [channel]
    std::vector<float> transmit;  ///< [event]
};

/// Buffers of one thread.
struct Worker {
    std::vector<ColumnWeights> columns = std::vector<ColumnWeights>(tile_columns);
    std::vector<double> offsets;
    std::vector<PixelTerm> terms;
};

class PixelSum {
  public:
    PixelSum(const RecordingInfo& info, const Recipe& recipe, CartesianGrid grid, ScanKind kind);

    void run(const EventReader& read_event, bool quiet);
    Beamformed result() &&;

  private:
    void sum_batch(std::size_t first_event, std::size_t count);
    void sum_tile(std::size_t first_column, std::size_t first_event, std::size_t count, Worker& worker);
    void weigh(double x, double width, Worker& worker, ColumnWeights& weights) const;
    void find_terms(double x, double depth, const ColumnWeights& weights, Worker& worker) const;
    std::int32_t transmit_position(std::size_t event, const Vec3& point) const;

    const RecordingInfo& info_;
    const Recipe& recipe_;
    CartesianGrid grid_;
    double positions_per_m_;  ///< of path
    double positions_per_s_;
    Aperture aperture_;
    ReceiveFocus focus_;
    EventWeights event_weights_;
    TapTable taps_;
    std::vector<TransmitPath> transmit_;  ///< [event]
    std::vector<TraceBank> banks_;        ///< [event of a batch]
    std::vector<Vec3> listeners_m_;       ///< [channel] of the batch
    std::vector<Worker> workers_;         ///< [thread]
    std::vector<float> real_, imaginary_;
};

PixelSum::PixelSum(const RecordingInfo& info, const Recipe& recipe, CartesianGrid grid, ScanKind kind)
    : info_(info),
      recipe_(recipe),
      grid_(std::move(grid)),
      positions_per_s_(info.sampling_rate_Hz * upsampling_factor(recipe.interpolation) * positions_per_sample),
      aperture_(recipe, info),
      focus_(recipe),
      event_weights_(info, recipe, kind),
      taps_(recipe.interpolation, 2),
      workers_(static_cast<std::size_t>(omp_get_max_threads())),
      real_(grid_.x_m.size() * grid_.depth_m.size(), 0.0F),
      imaginary_(real_.size(), 0.0F) {
    positions_per_m_ = positions_per_s_ / assumed_sound_speed(recipe, info);
    constexpr std::size_t most_samples = std::size_t{1} << (30 - position_bits);
    if (info.samples * 2 > most_samples) {
        throw InputError("a trace of " + plain(static_cast<double>(info.samples)) +
                         " samples is longer than a Cartesian image can be formed from (" +
                         plain(static_cast<double>(most_samples / 2)) + "); record a smaller depth");
    }
    for (std::size_t event = 0; event < info.events.size(); ++event) {
        transmit_.emplace_back(info, event, assumed_sound_speed(recipe, info));
    }
    do {
        banks_.emplace_back(info.channels, info.samples, recipe.interpolation, TraceBank::Form::analytic);
    } while (banks_.size() < std::min(most_batch_events, info.events.size()) &&
             (banks_.size() + 1) * banks_.front().bytes() <= batch_bytes);
}

void PixelSum::run(const EventReader& read_event, bool quiet) {
    std::vector<float> samples(info_.channels * info_.samples);
    Progress progress("beamforming", info_.events.size(), quiet);
    std::size_t first = 0;
    for (std::size_t event = 0; event < info_.events.size(); ++event) {
        read_event(event, samples);
        banks_[event - first].load(samples);
        const std::size_t count = event - first + 1;
        const bool last = event + 1 == info_.events.size();
        if (last || count == banks_.size() || info_.events[event + 1].listeners != info_.events[first].listeners) {
            sum_batch(first, count);
            first = event + 1;
            progress.advance(count);
        }
    }
}

void PixelSum::sum_batch(std::size_t first_event, std::size_t count) {
    listeners_m_.clear();
    for (const int listener : info_.events[first_event].listeners) {
        listeners_m_.push_back(info_.probe.elements[static_cast<std::size_t>(listener)].center_m);
    }
    const std::size_t tiles = (grid_.x_m.size() + tile_columns - 1) / tile_columns;
    const auto threads = static_cast<int>(workers_.size());
#pragma omp parallel for schedule(dynamic) num_threads(threads)
    for (std::size_t tile = 0; tile < tiles; ++tile) {
        sum_tile(tile * tile_columns, first_event, count, workers_[static_cast<std::size_t>(omp_get_thread_num())]);
    }
}

void PixelSum::sum_tile(std::size_t first_column, std::size_t first_event, std::size_t count, Worker& worker) {
    const std::size_t depths = grid_.depth_m.size();
    const std::size_t columns = std::min(tile_columns, grid_.x_m.size() - first_column);
    const auto silence = static_cast<std::int32_t>(TraceBank::silence) << position_bits;
    const auto end = static_cast<std::int32_t>(banks_.front().row_samples() << position_bits) - silence;
    for (ColumnWeights& weights : worker.columns) {
        weights.width_m = -1.0;
    }
    for (std::size_t d = 0; d < depths; ++d) {
        const double depth = grid_.depth_m[d];
        const double width = aperture_.width_m(depth);
        for (std::size_t column = 0; column < columns; ++column) {
            const double x = grid_.x_m[first_column + column];
            ColumnWeights& weights = worker.columns[column];
            weigh(x, width, worker, weights);
            find_terms(x, depth, weights, worker);
            std::complex<float> sum = 0.0F;
            for (std::size_t i = 0; i < count; ++i) {
                const float weight = weights.transmit[first_event + i];
                if (weight != 0.0F) {
                    sum +=
                        weight * sum_pixel_terms(worker.terms, transmit_position(first_event + i, Vec3(x, 0.0, depth)),
                                                 silence / 2, end + silence / 2, banks_[i].data().data(), taps_);
                }
            }
            const std::size_t pixel = (first_column + column) * depths + d;
            real_[pixel] += sum.real();
            imaginary_[pixel] += sum.imag();
        }
    }
}

void PixelSum::weigh(double x, double width, Worker& worker, ColumnWeights& weights) const {
    if (weights.width_m == width) {
        return;
    }
    weights.width_m = width;
    worker.offsets.resize(listeners_m_.size());
    weights.receive.resize(listeners_m_.size());
    std::ranges::transform(listeners_m_, worker.offsets.begin(),
                           [&](const Vec3& listener) { return listener.x() - x; });
    aperture_.weigh(width, worker.offsets, recipe_.normalize_depth, weights.receive);
    event_weights_.at(x, width, aperture_, worker.offsets, weights.transmit);
}

void PixelSum::find_terms(double x, double depth, const ColumnWeights& weights, Worker& worker) const {
    const double focus_depth = focus_.depth_m(depth);
    const Vec3 focus(x, 0.0, focus_depth);
    const auto row_samples = static_cast<std::uint32_t>(banks_.front().row_samples());
    worker.terms.clear();
    for (std::size_t channel = 0; channel < listeners_m_.size(); ++channel) {
        const float weight = weights.receive[channel];
        if (weight != 0.0F) {
            const double path = (focus - listeners_m_[channel]).norm() + (depth - focus_depth);
            const auto position = static_cast<std::int32_t>(path * positions_per_m_ + 0.5);
            worker.terms.push_back({static_cast<std::uint32_t>(channel) * row_samples, position, weight});
        }
    }
}

std::int32_t PixelSum::transmit_position(std::size_t event, const Vec3& point) const {
    constexpr double silence = static_cast<double>(TraceBank::silence) * positions_per_sample;
    const double position =
        transmit_[event](point) * positions_per_m_ - info_.events[event].start_time_s * positions_per_s_ + silence;
    return static_cast<std::int32_t>(std::lround(position)) + rounding;
}

Beamformed PixelSum::result() && {
    const std::size_t columns = grid_.x_m.size();
    const std::size_t depths = grid_.depth_m.size();
    return {std::move(grid_), columns, depths, std::move(real_), std::move(imaginary_)};
}

}  // namespace

Beamformed sum_pixels(const RecordingInfo& info, const EventReader& read_event, const Recipe& recipe,
                      CartesianGrid grid, ScanKind kind, bool quiet) {
    PixelSum sum(info, recipe, std::move(grid), kind);
    sum.run(read_event, quiet);
    return std::move(sum).result();
}

}  // namespace echoloom
