#include "recon/beamform/pixel_sum.h"

#include <omp.h>

#include <algorithm>
#include <cmath>
#include <complex>

#include "recon/beamform/event_weights.h"
#include "recon/beamform/receive_focus.h"
#include "recon/beamform/sum_kernels.h"
#include "recon/beamform/trace_preparation.h"
#include "sim/base/parallel.h"
#include "sim/base/progress.h"
#include "sim/base/text.h"

namespace echoloom {
namespace {

/// Neighbouring columns hear nearly the same stretch of each trace: swept together, depth by depth and within a depth
/// event by event, they find it in the cache.
constexpr std::size_t tile_columns = 16;
constexpr std::size_t batch_bytes = std::size_t{128} << 20;
constexpr std::size_t most_batch_events = 16;

/// What one column of a tile needs at the depth it has reached.
struct Column {
    double width_m = -1.0;        ///< for which the weights were found
    std::vector<float> receive;   ///< [channel]
    std::vector<float> transmit;  ///< [event]
    std::vector<PixelTerm> terms;
    std::complex<float> sum;
};

/// Buffers of one thread.
struct Worker {
    std::vector<Column> columns;
    std::vector<double> offsets;
    TracePreparation::Workspace workspace;
};

/// Most, by magnitude, that the transmit and receive parts of a position can add up to anywhere in the grid. A path
/// changes by no more than its point moves, so that one corner bounds them all.
double largest_position(const RecordingInfo& info, const Recipe& recipe, const CartesianGrid& grid,
                        std::span<const TransmitPath> transmit, double positions_per_m, double positions_per_s) {
    const Vec3 corner(grid.x_m.front(), 0.0, grid.depth_m.front());
    const double diagonal = (Vec3(grid.x_m.back(), 0.0, grid.depth_m.back()) - corner).norm();
    double out = 0.0;
    for (std::size_t event = 0; event < transmit.size(); ++event) {
        out = std::max(out, std::abs(transmit[event](corner) * positions_per_m -
                                     info.events[event].start_time_s * positions_per_s));
    }
    double deepest = std::max(std::abs(grid.depth_m.front()), std::abs(grid.depth_m.back()));
    for (const double focus : recipe.focus_depths_m) {
        deepest = std::max(deepest, focus);
    }
    double farthest = 0.0;
    for (const Element& element : info.probe.elements) {
        farthest = std::max(farthest, element.center_m.norm());
    }
    const double sideways = std::max(std::abs(grid.x_m.front()), std::abs(grid.x_m.back()));
    return out + (diagonal + sideways + farthest + 2.0 * deepest) * positions_per_m;
}

class PixelSum {
  public:
    PixelSum(const RecordingInfo& info, const Recipe& recipe, CartesianGrid grid, ScanKind kind);

    void run(const EventReader& read_event, bool quiet);
    Beamformed result() &&;

  private:
    std::span<float> slot(std::size_t event_of_batch) {
        return std::span(samples_).subspan(event_of_batch * event_samples_, event_samples_);
    }
    void sum_batch(std::size_t first_event, std::size_t count);
    void sum_tile(std::size_t first_column, std::size_t first_event, std::size_t count, Worker& worker);
    void weigh(double x, double width, Column& column, std::vector<double>& offsets) const;
    void find_terms(double x, double depth, Column& column) const;
    std::int32_t transmit_position(std::size_t event, const Vec3& point) const;

    const RecordingInfo& info_;
    const Recipe& recipe_;
    CartesianGrid grid_;
    TracePreparation preparation_;
    double positions_per_m_;  ///< of path
    double positions_per_s_;
    Aperture aperture_;
    ReceiveFocus focus_;
    EventWeights event_weights_;
    TapTable taps_;
    std::vector<TransmitPath> transmit_;  ///< [event]
    std::size_t event_samples_;
    std::vector<float> samples_;             ///< [event of a batch, channel, sample]
    std::vector<std::vector<float>> banks_;  ///< [event of a batch]
    std::vector<Vec3> listeners_m_;          ///< [channel] of the batch
    std::vector<Worker> workers_;            ///< [thread]
    std::vector<float> real_, imaginary_;
};

PixelSum::PixelSum(const RecordingInfo& info, const Recipe& recipe, CartesianGrid grid, ScanKind kind)
    : info_(info),
      recipe_(recipe),
      grid_(std::move(grid)),
      preparation_(info, recipe, TracePreparation::Form::analytic),
      positions_per_s_(info.sampling_rate_Hz * upsampling_factor(recipe.interpolation) * positions_per_sample),
      aperture_(recipe, info),
      focus_(recipe),
      event_weights_(info, recipe, kind),
      taps_(recipe.interpolation, 2),
      event_samples_(info.channels * info.samples),
      real_(grid_.x_m.size() * grid_.depth_m.size(), 0.0F),
      imaginary_(real_.size(), 0.0F) {
    positions_per_m_ = positions_per_s_ / assumed_sound_speed(recipe, info);
    constexpr std::size_t most_samples = std::size_t{1} << (29 - position_bits);
    if (info.samples > most_samples) {
        throw InputError("a trace of " + plain(static_cast<double>(info.samples)) +
                         " samples is longer than a Cartesian image can be formed from (" +
                         plain(static_cast<double>(most_samples)) + "); record a smaller depth");
    }
    for (std::size_t event = 0; event < info.events.size(); ++event) {
        transmit_.emplace_back(info, event, assumed_sound_speed(recipe, info));
    }
    // Both parts and their sum are 32-bit integers; a sample more than the silence is left for rounding.
    constexpr double most_position = 2147483647.0 - (TracePreparation::silence + 1) * positions_per_sample;
    if (!(largest_position(info, recipe, grid_, transmit_, positions_per_m_, positions_per_s_) < most_position)) {
        throw InputError("echoes of this grid lie farther than " + plain(most_position / positions_per_s_ * 1e3) +
                         " ms from the start of their traces, too far to form a Cartesian image: check the "
                         "recording's start times, and the recipe's grid and focus depths");
    }
    const std::size_t bank_bytes = preparation_.bank_floats() * sizeof(float);
    const std::size_t events =
        std::clamp<std::size_t>(batch_bytes / bank_bytes, 1, std::min(most_batch_events, info.events.size()));
    samples_.resize(events * event_samples_);
    banks_.assign(events, preparation_.empty_bank());
    for (int thread = 0; thread < omp_get_max_threads(); ++thread) {
        workers_.push_back({std::vector<Column>(tile_columns), {}, preparation_.workspace()});
    }
}

void PixelSum::run(const EventReader& read_event, bool quiet) {
    Progress progress("beamforming", info_.events.size(), quiet);
    std::size_t first = 0;
    for (std::size_t event = 0; event < info_.events.size(); ++event) {
        read_event(event, slot(event - first));
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
    FirstFailure failure;
#pragma omp parallel num_threads(threads)
    {
        Worker& worker = workers_[static_cast<std::size_t>(omp_get_thread_num())];
#pragma omp for schedule(dynamic) collapse(2)
        for (std::size_t i = 0; i < count; ++i) {
            for (std::size_t channel = 0; channel < info_.channels; ++channel) {
                failure.run([&] { preparation_.prepare(channel, slot(i), banks_[i], worker.workspace); });
            }
        }
#pragma omp for schedule(dynamic)
        for (std::size_t tile = 0; tile < tiles; ++tile) {
            failure.run([&] { sum_tile(tile * tile_columns, first_event, count, worker); });
        }
    }
    failure.rethrow();
}

void PixelSum::sum_tile(std::size_t first_column, std::size_t first_event, std::size_t count, Worker& worker) {
    const std::size_t depths = grid_.depth_m.size();
    const auto columns = std::span(worker.columns).first(std::min(tile_columns, grid_.x_m.size() - first_column));
    const auto silence = static_cast<std::int32_t>(TracePreparation::silence) << position_bits;
    const std::int32_t most = static_cast<std::int32_t>(preparation_.row_samples() << position_bits) - silence / 2;
    for (Column& column : columns) {
        column.width_m = -1.0;
    }
    for (std::size_t d = 0; d < depths; ++d) {
        const double depth = grid_.depth_m[d];
        for (std::size_t i = 0; i < columns.size(); ++i) {
            const double x = grid_.x_m[first_column + i];
            weigh(x, aperture_.width_m(depth), columns[i], worker.offsets);
            find_terms(x, depth, columns[i]);
            columns[i].sum = 0.0F;
        }
        for (std::size_t e = 0; e < count; ++e) {
            const float* const bank = banks_[e].data();
            for (std::size_t i = 0; i < columns.size(); ++i) {
                const float weight = columns[i].transmit[first_event + e];
                if (weight != 0.0F) {
                    const Vec3 point(grid_.x_m[first_column + i], 0.0, depth);
                    columns[i].sum +=
                        weight * sum_pixel_terms(columns[i].terms, transmit_position(first_event + e, point),
                                                 silence / 2, most, bank, taps_);
                }
            }
        }
        for (std::size_t i = 0; i < columns.size(); ++i) {
            const std::size_t pixel = (first_column + i) * depths + d;
            real_[pixel] += columns[i].sum.real();
            imaginary_[pixel] += columns[i].sum.imag();
        }
    }
}

void PixelSum::weigh(double x, double width, Column& column, std::vector<double>& offsets) const {
    if (column.width_m == width) {
        return;
    }
    column.width_m = width;
    offsets.resize(listeners_m_.size());
    column.receive.resize(listeners_m_.size());
    std::ranges::transform(listeners_m_, offsets.begin(), [&](const Vec3& listener) { return listener.x() - x; });
    aperture_.weigh(width, offsets, recipe_.normalize_depth, column.receive);
    event_weights_.at(x, width, aperture_, offsets, column.transmit);
}

void PixelSum::find_terms(double x, double depth, Column& column) const {
    const double focus_depth = focus_.depth_m(depth);
    const Vec3 focus(x, 0.0, focus_depth);
    const auto row_samples = static_cast<std::uint32_t>(preparation_.row_samples());
    column.terms.clear();
    for (std::size_t channel = 0; channel < listeners_m_.size(); ++channel) {
        const float weight = column.receive[channel];
        if (weight != 0.0F) {
            const double path = (focus - listeners_m_[channel]).norm() + (depth - focus_depth);
            const auto position = static_cast<std::int32_t>(path * positions_per_m_);
            column.terms.push_back({static_cast<std::uint32_t>(channel) * row_samples, position, weight});
        }
    }
}

std::int32_t PixelSum::transmit_position(std::size_t event, const Vec3& point) const {
    constexpr double silence = static_cast<double>(TracePreparation::silence) * positions_per_sample;
    // Receive parts are cut off, not rounded, half a unit on average: it is made up for here.
    constexpr double half = 0.5;
    const double position = transmit_[event](point) * positions_per_m_ -
                            info_.events[event].start_time_s * positions_per_s_ + silence + half;
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
