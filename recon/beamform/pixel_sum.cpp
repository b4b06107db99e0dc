#include "recon/beamform/pixel_sum.h"

#include <omp.h>

#include <algorithm>
#include <cmath>
#include <complex>
#include <numeric>

#include "recon/beamform/array_places.h"
#include "recon/beamform/event_weights.h"
#include "recon/beamform/grid_axes.h"
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
    float heard = 0.0F;           ///< in retrospect: share of the aperture's weights that listened
    std::vector<PixelTerm> terms;
    Vec3 point_m;
    std::complex<float> sum;
    float weight_sum = 0.0F;
};

/// Buffers of one thread.
struct Worker {
    std::vector<Column> columns;
    std::vector<double> offsets;
    TracePreparation::Workspace workspace;
};

/// Most, by magnitude, that the transmit and receive parts of a position can add up to anywhere in the grid. A path
/// changes by no more than its point moves, so that one corner bounds them all.
double largest_position(const RecordingInfo& info, const Recipe& recipe, const PixelColumns& columns,
                        std::span<const TransmitPath> transmit, double positions_per_m, double positions_per_s) {
    const auto pixel = [&](const LineStart& start, double depth) { return start.origin_m + depth * start.direction; };
    const double deepest_pixel = std::max(std::abs(columns.depth_m.front()), std::abs(columns.depth_m.back()));
    const Vec3 corner = pixel(columns.starts.front(), columns.depth_m.front());
    double diagonal = 0.0;
    double sideways = 0.0;
    for (const LineStart& start : columns.starts) {
        diagonal = std::max(diagonal, (pixel(start, columns.depth_m.back()) - corner).norm());
        diagonal = std::max(diagonal, (pixel(start, columns.depth_m.front()) - corner).norm());
        sideways = std::max(sideways, start.origin_m.norm());
    }
    double out = 0.0;
    for (std::size_t event = 0; event < transmit.size(); ++event) {
        const TransmitEvent& sent = info.events[event];
        const double start = sent.start_time_s * positions_per_s;
        // Through a focus a path is at most that to the focus and from there on.
        const double through = (sent.focus_m - sent.origin_m).norm() + (corner - sent.focus_m).norm();
        out = std::max(out, transmit[event].cone() ? through * positions_per_m + std::abs(start)
                                                   : std::abs(transmit[event](corner) * positions_per_m - start));
    }
    double deepest = deepest_pixel;
    for (const double focus : recipe.focus_depths_m) {
        deepest = std::max(deepest, focus);
    }
    double farthest = 0.0;
    for (const Element& element : info.probe.elements) {
        farthest = std::max(farthest, element.center_m.norm());
    }
    return out + (diagonal + sideways + farthest + 2.0 * deepest) * positions_per_m;
}

class PixelSum {
  public:
    PixelSum(const RecordingInfo& info, const Recipe& recipe, Grid grid, ScanKind kind);

    void run(const EventReader& read_event, bool quiet);
    Beamformed result() &&;

  private:
    std::span<float> slot(std::size_t event_of_batch) {
        return std::span(samples_).subspan(event_of_batch * event_samples_, event_samples_);
    }
    void sum_batch(std::size_t first_event, std::size_t count);
    void sum_tile(std::size_t first_column, std::size_t first_event, std::size_t count, Worker& worker);
    bool prepare(std::size_t column_index, std::size_t d, std::size_t first_event, std::size_t count, Column& column,
                 std::vector<double>& offsets) const;
    bool weigh_in_cones(std::size_t first_event, std::size_t count, Column& column) const;
    void weigh(std::size_t column_index, std::size_t d, Column& column, std::vector<double>& offsets) const;
    void find_terms(const LineStart& start, double depth, Column& column) const;
    void find_whole_apertures();
    void divide_by_weights();
    std::int32_t transmit_position(std::size_t event, const Vec3& point) const;

    const RecordingInfo& info_;
    const Recipe& recipe_;
    Grid grid_;
    PixelColumns columns_;
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
    ElementPlaces places_;
    std::vector<Vec3> listeners_m_;          ///< [channel] of the batch
    std::vector<double> listeners_along_m_;  ///< [channel] of the batch
    std::vector<Worker> workers_;            ///< [thread]
    std::vector<float> real_, imaginary_;
    // in retrospect, [column, depth]:
    std::vector<float> whole_;       ///< weights of the receive aperture, if every element listened
    std::vector<float> weight_sum_;  ///< of what was added
};

PixelSum::PixelSum(const RecordingInfo& info, const Recipe& recipe, Grid grid, ScanKind kind)
    : info_(info),
      recipe_(recipe),
      grid_(std::move(grid)),
      columns_(pixel_columns(grid_, info.probe)),
      preparation_(info, recipe, TracePreparation::Form::analytic),
      positions_per_s_(info.sampling_rate_Hz * upsampling_factor(recipe.interpolation) * positions_per_sample),
      aperture_(recipe, info),
      focus_(recipe),
      event_weights_(info, recipe, kind),
      taps_(recipe.interpolation, 2),
      event_samples_(info.channels * info.samples),
      places_(info.probe),
      real_(columns_.starts.size() * columns_.depth_m.size(), 0.0F),
      imaginary_(real_.size(), 0.0F) {
    positions_per_m_ = positions_per_s_ / assumed_sound_speed(recipe, info);
    constexpr std::size_t most_samples = std::size_t{1} << (29 - position_bits);
    if (info.samples > most_samples) {
        throw InputError("a trace of " + plain(static_cast<double>(info.samples)) +
                         " samples is longer than an image of pixels can be formed from (" +
                         plain(static_cast<double>(most_samples)) + "); record a smaller depth");
    }
    for (std::size_t event = 0; event < info.events.size(); ++event) {
        transmit_.emplace_back(info, event, assumed_sound_speed(recipe, info));
    }
    // Both parts and their sum are 32-bit integers; a sample more than the silence is left for rounding.
    constexpr double most_position = 2147483647.0 - (TracePreparation::silence + 1) * positions_per_sample;
    if (!(largest_position(info, recipe, columns_, transmit_, positions_per_m_, positions_per_s_) < most_position)) {
        throw InputError("echoes of this grid lie farther than " + plain(most_position / positions_per_s_ * 1e3) +
                         " ms from the start of their traces, too far to form an image of pixels: check the "
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
    if (event_weights_.by_cone()) {
        find_whole_apertures();
        weight_sum_.resize(real_.size(), 0.0F);
    }
}

void PixelSum::find_whole_apertures() {
    const std::size_t depths = columns_.depth_m.size();
    whole_.resize(real_.size());
    FirstFailure failure;
#pragma omp parallel for schedule(dynamic)
    for (std::size_t i = 0; i < columns_.starts.size(); ++i) {
        failure.run([&] {
            std::vector<double> offsets = places_.along_m;
            for (double& offset : offsets) {
                offset -= columns_.starts[i].along_m;
            }
            std::vector<float> weights(offsets.size());
            double width = -1.0;
            float whole = 0.0F;
            for (std::size_t d = 0; d < depths; ++d) {
                if (aperture_.width_m(columns_.depth_m[d]) != width) {
                    width = aperture_.width_m(columns_.depth_m[d]);
                    aperture_.weigh(width, offsets, false, weights);
                    whole = std::accumulate(weights.begin(), weights.end(), 0.0F);
                }
                whole_[i * depths + d] = whole;
            }
        });
    }
    failure.rethrow();
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
    if (event_weights_.by_cone() && recipe_.normalize_events) {
        divide_by_weights();
    }
}

void PixelSum::divide_by_weights() {
    constexpr float least = 1e-6F;  // below, no event reached the pixel
    for (std::size_t pixel = 0; pixel < real_.size(); ++pixel) {
        const float factor = weight_sum_[pixel] > least ? 1.0F / weight_sum_[pixel] : 0.0F;
        real_[pixel] *= factor;
        imaginary_[pixel] *= factor;
    }
}

void PixelSum::sum_batch(std::size_t first_event, std::size_t count) {
    listeners_m_.clear();
    listeners_along_m_.clear();
    for (const int listener : info_.events[first_event].listeners) {
        listeners_m_.push_back(places_.center_m[static_cast<std::size_t>(listener)]);
        listeners_along_m_.push_back(places_.along_m[static_cast<std::size_t>(listener)]);
    }
    const std::size_t tiles = (columns_.starts.size() + tile_columns - 1) / tile_columns;
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
    const std::size_t depths = columns_.depth_m.size();
    const auto columns = std::span(worker.columns).first(std::min(tile_columns, columns_.starts.size() - first_column));
    const auto silence = static_cast<std::int32_t>(TracePreparation::silence) << position_bits;
    const std::int32_t most = static_cast<std::int32_t>(preparation_.row_samples() << position_bits) - silence / 2;
    for (Column& column : columns) {
        column.width_m = -1.0;
        column.transmit.assign(info_.events.size(), 0.0F);
    }
    for (std::size_t d = 0; d < depths; ++d) {
        bool any = false;
        for (std::size_t i = 0; i < columns.size(); ++i) {
            any |= prepare(first_column + i, d, first_event, count, columns[i], worker.offsets);
        }
        for (std::size_t e = 0; any && e < count; ++e) {
            const float* const bank = banks_[e].data();
            for (Column& column : columns) {
                const float weight = column.transmit[first_event + e];
                if (weight != 0.0F) {
                    column.sum +=
                        weight * sum_pixel_terms(column.terms, transmit_position(first_event + e, column.point_m),
                                                 silence / 2, most, bank, taps_);
                    column.weight_sum += weight * column.heard;
                }
            }
        }
        for (std::size_t i = 0; any && i < columns.size(); ++i) {
            const std::size_t pixel = (first_column + i) * depths + d;
            real_[pixel] += columns[i].sum.real();
            imaginary_[pixel] += columns[i].sum.imag();
            if (!weight_sum_.empty()) {
                weight_sum_[pixel] += columns[i].weight_sum;
            }
        }
    }
}

/// Makes a column ready for depth `d`; false where none of these events counts there.
bool PixelSum::prepare(std::size_t column_index, std::size_t d, std::size_t first_event, std::size_t count,
                       Column& column, std::vector<double>& offsets) const {
    const LineStart& start = columns_.starts[column_index];
    const double depth = columns_.depth_m[d];
    column.point_m = start.origin_m + depth * start.direction;
    column.sum = 0.0F;
    column.weight_sum = 0.0F;
    if (event_weights_.by_cone() && !weigh_in_cones(first_event, count, column)) {
        return false;
    }
    weigh(column_index, d, column, offsets);
    find_terms(start, depth, column);
    return true;
}

bool PixelSum::weigh_in_cones(std::size_t first_event, std::size_t count, Column& column) const {
    bool any = false;
    for (std::size_t event = first_event; event < first_event + count; ++event) {
        column.transmit[event] = event_weights_.in_cone(*transmit_[event].cone(), column.point_m);
        any |= column.transmit[event] != 0.0F;
    }
    return any;
}

void PixelSum::weigh(std::size_t column_index, std::size_t d, Column& column, std::vector<double>& offsets) const {
    const double along = columns_.starts[column_index].along_m;
    const double width = aperture_.width_m(columns_.depth_m[d]);
    if (column.width_m == width) {
        return;
    }
    column.width_m = width;
    offsets.resize(listeners_along_m_.size());
    column.receive.resize(listeners_along_m_.size());
    std::ranges::transform(listeners_along_m_, offsets.begin(), [&](double place) { return place - along; });
    if (!event_weights_.by_cone()) {
        aperture_.weigh(width, offsets, recipe_.normalize_depth, column.receive);
        event_weights_.at(along, width, aperture_, offsets, column.transmit);
        return;
    }
    // Elements that did not listen to this event count in its normalisation too, lest few loud channels speak for all.
    aperture_.weigh(width, offsets, false, column.receive);
    const float whole = whole_[column_index * columns_.depth_m.size() + d];
    const float factor = whole > 1e-12F ? 1.0F / whole : 0.0F;
    column.heard = factor * std::accumulate(column.receive.begin(), column.receive.end(), 0.0F);
    if (recipe_.normalize_depth) {
        for (float& weight : column.receive) {
            weight *= factor;
        }
    }
}

void PixelSum::find_terms(const LineStart& start, double depth, Column& column) const {
    const double focus_depth = focus_.depth_m(depth);
    const Vec3 focus = start.origin_m + focus_depth * start.direction;
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
    const std::size_t columns = columns_.starts.size();
    const std::size_t depths = columns_.depth_m.size();
    return {std::move(grid_), columns, depths, std::move(real_), std::move(imaginary_)};
}

}  // namespace

Beamformed sum_pixels(const RecordingInfo& info, const EventReader& read_event, const Recipe& recipe, Grid grid,
                      ScanKind kind, bool quiet) {
    PixelSum sum(info, recipe, std::move(grid), kind);
    sum.run(read_event, quiet);
    return std::move(sum).result();
}

}  // namespace echoloom
