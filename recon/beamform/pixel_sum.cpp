#include "recon/beamform/pixel_sum.h"

#include <omp.h>

#include <algorithm>
#include <atomic>
#include <cmath>
#include <numeric>

#include "recon/beamform/array_places.h"
#include "recon/beamform/event_weights.h"
#include "recon/beamform/grid_axes.h"
#include "recon/beamform/grid_reach.h"
#include "recon/beamform/pixel_traces.h"
#include "recon/beamform/receive_focus.h"
#include "recon/beamform/tile_sum.h"
#include "recon/beamform/tile_weights.h"
#include "sim/base/parallel.h"
#include "sim/base/progress.h"

namespace echoloom {
namespace {

constexpr double min_sum = 1e-12;    // of weights that are to sum to one
constexpr float min_weight = 1e-6F;  // below, no event reached the pixel

/// Where a tile lies in the grid.
struct TilePlace {
    std::size_t first_column, columns, first_depth, depths;
};

/// Buffers of one thread, filled for one tile after the other.
struct TileWork {
    TilePoints points;  ///< pixels
    TilePoints foci;    ///< where their echoes are taken to come from, if not from there
    TileApertures apertures;
    std::vector<TileRow> transmit;  ///< [event of a batch]
    TileRow receive;
    TileRow elsewhere;                          ///< of events of other batches, for what all weigh together
    std::vector<double> positions;              ///< [pixel] along cones
    std::vector<double> transmitted, received;  ///< [pixel] sums of weights
    std::vector<std::size_t> active;            ///< events of a batch that count in the tile
    std::vector<TileEvent> events;              ///< these, as one channel received them
    TileSums sums;

    explicit TileWork(std::size_t events)
        : transmit(events), positions(tile_pixels), transmitted(tile_pixels), received(tile_pixels) {}
};

class PixelSum {
  public:
    PixelSum(const RecordingInfo& info, const Recipe& recipe, Grid grid, ScanKind kind);

    void run(const EventReader& read_event, bool quiet);
    Beamformed result() &&;

  private:
    std::size_t batch_end(std::size_t first) const;
    void sum_batch(std::size_t first_event, std::size_t count, std::size_t steps, Progress& progress);
    TilePlace tile_place(std::size_t tile) const;
    std::size_t tiles() const;
    void sum_tile(const TilePlace& place, std::size_t first_event, std::size_t count, TileWork& work);
    void find_points(const TilePlace& place, TileWork& work) const;
    void find_transmit(const TilePlace& place, std::size_t first_event, std::size_t count, TileWork& work) const;
    void turn(const TilePlace& place, TileRow& row) const;
    void find_cone(const TilePlace& place, std::size_t event, TileWork& work, TileRow& row) const;
    void sum_channels(const TilePlace& place, std::size_t first_event, TileWork& work) const;
    const TileRow& find_receive(const TilePlace& place, std::size_t event, std::size_t channel, TileWork& work) const;
    void keep(const TilePlace& place, const TileWork& work);
    void find_whole_apertures();
    void divide_by_weights();
    TilePath transmit_path(std::size_t event) const;

    const RecordingInfo& info_;
    const Recipe& recipe_;
    Grid grid_;
    PixelColumns columns_;
    double samples_per_m_;  ///< of path
    double samples_per_s_;
    Aperture aperture_;
    ReceiveFocus focus_;
    EventWeights event_weights_;
    PixelTraces traces_;
    std::vector<TransmitPath> transmit_;  ///< [event]
    ElementPlaces places_;
    std::vector<TileWork> works_;  ///< [thread]
    std::vector<float> real_, imaginary_;
    // retrospective, [column, depth]:
    std::vector<float> whole_;       ///< weights of the receive aperture, if every element received
    std::vector<float> weight_sum_;  ///< of what was added
};

PixelSum::PixelSum(const RecordingInfo& info, const Recipe& recipe, Grid grid, ScanKind kind)
    : info_(info),
      recipe_(recipe),
      grid_(std::move(grid)),
      columns_(pixel_columns(grid_, info.probe)),
      samples_per_s_(info.sampling_rate_Hz),
      aperture_(recipe, info),
      focus_(recipe),
      event_weights_(info, recipe, kind),
      traces_(info, recipe, folds(info, recipe, event_weights_)),
      places_(info.probe),
      real_(columns_.starts.size() * columns_.depth_m.size(), 0.0F),
      imaginary_(real_.size(), 0.0F) {
    samples_per_m_ = samples_per_s_ / assumed_sound_speed(recipe, info);
    for (std::size_t event = 0; event < info.events.size(); ++event) {
        transmit_.emplace_back(info, event, assumed_sound_speed(recipe, info));
    }
    check_reach(info, recipe, columns_, transmit_);
    for (int thread = 0; thread < omp_get_max_threads(); ++thread) {
        works_.emplace_back(traces_.max_events());
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
            std::vector<double> offsets = places_.lateral_m;
            for (double& offset : offsets) {
                offset -= columns_.starts[i].lateral_m;
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

/// Events of a batch follow each other and have the same receivers.
std::size_t PixelSum::batch_end(std::size_t first) const {
    const std::size_t most = std::min(first + traces_.max_events(), info_.events.size());
    std::size_t end = first + 1;
    while (end < most && info_.events[end].receivers == info_.events[first].receivers) {
        ++end;
    }
    return end;
}

void PixelSum::run(const EventReader& read_event, bool quiet) {
    // Reading is told event by event, summing tile by tile, as half the work each.
    const std::size_t events = info_.events.size();
    Progress progress("beamforming", 2 * events, quiet);
    std::size_t end = 0;
    for (std::size_t first = 0; first < events; first = end) {
        end = batch_end(first);
        const EventReader reader = [&](std::size_t event, std::span<float> samples) {
            read_event(event, samples);
            progress.advance();
        };
        traces_.load(reader, first, end - first);
        sum_batch(first, end - first, end - first, progress);
    }
    if (event_weights_.by_cone() && recipe_.normalize_events) {
        divide_by_weights();
    }
}

void PixelSum::divide_by_weights() {
    for (std::size_t pixel = 0; pixel < real_.size(); ++pixel) {
        const float factor = weight_sum_[pixel] > min_weight ? 1.0F / weight_sum_[pixel] : 0.0F;
        real_[pixel] *= factor;
        imaginary_[pixel] *= factor;
    }
}

std::size_t PixelSum::tiles() const {
    const auto in = [](std::size_t all, std::size_t tile) { return (all + tile - 1) / tile; };
    return in(columns_.starts.size(), tile_columns) * in(columns_.depth_m.size(), tile_depths);
}

TilePlace PixelSum::tile_place(std::size_t tile) const {
    const std::size_t across = (columns_.starts.size() + tile_columns - 1) / tile_columns;
    const std::size_t column = tile % across * tile_columns;
    const std::size_t depth = tile / across * tile_depths;
    return {column, std::min(tile_columns, columns_.starts.size() - column), depth,
            std::min(tile_depths, columns_.depth_m.size() - depth)};
}

void PixelSum::sum_batch(std::size_t first_event, std::size_t count, std::size_t steps, Progress& progress) {
    const auto threads = static_cast<int>(works_.size());
    const std::size_t all = tiles();
    std::atomic<std::size_t> done = 0;
    std::size_t told = 0;
    FirstFailure failure;
#pragma omp parallel for schedule(dynamic) num_threads(threads)
    for (std::size_t tile = 0; tile < all; ++tile) {
        const int thread = omp_get_thread_num();
        failure.run([&] { sum_tile(tile_place(tile), first_event, count, works_[static_cast<std::size_t>(thread)]); });
        ++done;
        if (thread == 0) {
            const std::size_t reached = steps * done / all;
            progress.advance(reached - told);
            told = reached;
        }
    }
    failure.rethrow();
    progress.advance(steps - told);
}

void PixelSum::sum_tile(const TilePlace& place, std::size_t first_event, std::size_t count, TileWork& work) {
    find_points(place, work);
    find_transmit(place, first_event, count, work);
    work.active.clear();
    for (std::size_t e = 0; e < count; ++e) {
        if (!work.transmit[e].empty()) {
            work.active.push_back(e);
        }
    }
    if (work.active.empty()) {
        return;
    }
    sum_channels(place, first_event, work);
    keep(place, work);
}

/// Columns and depths that the tile lacks are taken to be like its last.
void PixelSum::find_points(const TilePlace& place, TileWork& work) const {
    const TileOrder order;
    work.apertures.width_m.resize(TileOrder::even(place.depths));
    for (std::size_t d = 0; d < work.apertures.width_m.size(); ++d) {
        const double depth = columns_.depth_m[place.first_depth + std::min(d, place.depths - 1)];
        const double focus_depth = focus_.depth_m(depth);
        work.apertures.width_m[d] = aperture_.width_m(depth);
        for (std::size_t i = 0; i < tile_columns; ++i) {
            const LineStart& start = columns_.starts[place.first_column + std::min(i, place.columns - 1)];
            const std::size_t pixel = order.pixel(d, i);
            work.apertures.lateral_m[i] = start.lateral_m;
            work.points.set(pixel, start.origin_m + depth * start.direction);
            work.foci.set(pixel, start.origin_m + focus_depth * start.direction, depth - focus_depth);
        }
    }
    work.apertures.prepare(aperture_);
}

TilePath PixelSum::transmit_path(std::size_t event) const {
    const TransmitPath& path = transmit_[event];
    // Folded, an element's row serves for transmitting and for receiving, with half of the start time each.
    const double start = info_.events[event].start_time_s * samples_per_s_ * (traces_.folded() ? 0.5 : 1.0);
    return {.from_m = path.from_m(),
            .direction = path.direction(),
            .plane = path.plane(),
            .samples_per_m = samples_per_m_,
            .extra_samples = path.extra_m() * samples_per_m_ - start};
}

void PixelSum::find_transmit(const TilePlace& place, std::size_t first_event, std::size_t count, TileWork& work) const {
    std::ranges::fill(work.transmitted, 0.0);
    for (std::size_t e = 0; e < count; ++e) {
        TileRow& row = work.transmit[e];
        const std::size_t event = first_event + e;
        if (event_weights_.by_cone()) {
            find_cone(place, event, work, row);
            continue;
        }
        if (event_weights_.by_aperture()) {
            find_weights(aperture_, work.apertures, event_weights_.firing_lateral_m(event), row);
            add_weights(row, work.transmitted);
        } else {
            set_weights(event_weights_.fixed(event), place.depths, row);
        }
        if (!row.empty()) {
            find_positions(work.points, transmit_path(event), TileOrder().vectors(place.depths), row);
            turn(place, row);
        }
    }
    for (std::size_t event = 0; event_weights_.by_aperture() && event < info_.events.size(); ++event) {
        if (event < first_event || event >= first_event + count) {
            find_weights(aperture_, work.apertures, event_weights_.firing_lateral_m(event), work.elsewhere);
            add_weights(work.elsewhere, work.transmitted);
        }
    }
}

/// Takes up the carrier that demodulation took out of the traces.
void PixelSum::turn(const TilePlace& place, TileRow& row) const {
    if (recipe_.interpolation == Interpolation::upsampled) {
        turn_weights(traces_.carrier(), TileOrder().vectors(place.depths), row);
    }
}

void PixelSum::find_cone(const TilePlace& place, std::size_t event, TileWork& work, TileRow& row) const {
    const FocusCone& cone = *transmit_[event].cone();
    const double start = info_.events[event].start_time_s * samples_per_s_;
    for (std::size_t pixel = 0; pixel < TileOrder::pixels(place.depths); ++pixel) {
        row.weight[pixel] = event_weights_.in_cone(cone, work.points.at(pixel));
    }
    find_range(TileOrder().vectors(place.depths), row);
    for (std::size_t pixel = 0; !row.empty() && pixel < TileOrder::pixels(place.depths); ++pixel) {
        work.positions[pixel] = cone.path_m(work.points.at(pixel)) * samples_per_m_ - start;
    }
    if (!row.empty()) {
        set_positions(work.positions, TileOrder().vectors(place.depths), row);
        turn(place, row);
    }
}

void PixelSum::sum_channels(const TilePlace& place, std::size_t first_event, TileWork& work) const {
    const std::size_t pixels = TileOrder::pixels(place.depths);
    std::fill_n(work.sums.real.begin(), pixels, 0.0F);
    std::fill_n(work.sums.imaginary.begin(), pixels, 0.0F);
    std::ranges::fill(work.received, 0.0);
    for (std::size_t channel = 0; channel < info_.channels; ++channel) {
        const TileRow& receive =
            traces_.folded() ? work.transmit[channel] : find_receive(place, first_event, channel, work);
        if (receive.empty()) {
            continue;
        }
        add_weights(receive, work.received);
        work.events.clear();
        for (const std::size_t e : work.active) {
            if (!traces_.folded() || e <= channel) {
                work.events.push_back({&work.transmit[e], traces_.trace(e, channel)});
            }
        }
        add_to_tile(receive, work.events, {traces_.to_imaginary(), static_cast<std::int32_t>(traces_.samples())},
                    recipe_.interpolation, work.sums);
    }
}

const TileRow& PixelSum::find_receive(const TilePlace& place, std::size_t event, std::size_t channel,
                                      TileWork& work) const {
    const auto element = static_cast<std::size_t>(info_.events[event].receivers[channel]);
    find_weights(aperture_, work.apertures, places_.lateral_m[element], work.receive);
    if (!work.receive.empty()) {
        find_positions(focus_.dynamic() ? work.points : work.foci,
                       {.from_m = places_.center_m[element], .samples_per_m = samples_per_m_},
                       TileOrder().vectors(place.depths), work.receive, Vectors::weighted);
        turn(place, work.receive);
    }
    return work.receive;
}

/// Adds a tile's sums to the image, divided by what the weights of each pixel sum to where that is asked for.
void PixelSum::keep(const TilePlace& place, const TileWork& work) {
    const TileOrder order;
    const std::size_t depths = columns_.depth_m.size();
    const auto share = [](double sum) { return std::abs(sum) > min_sum ? 1.0 / sum : 1.0; };
    for (std::size_t d = 0; d < place.depths; ++d) {
        for (std::size_t i = 0; i < place.columns; ++i) {
            const std::size_t from = order.pixel(d, i);
            const std::size_t to = (place.first_column + i) * depths + place.first_depth + d;
            double factor = 1.0;
            if (event_weights_.by_cone()) {
                // Elements that did not receive count in the normalisation too, lest a few strong channels count for
                // all.
                const double whole = static_cast<double>(whole_[to]);
                const double one = whole > min_sum ? 1.0 / whole : 0.0;
                factor = recipe_.normalize_depth ? one : 1.0;
                double transmitted = 0.0;
                for (const std::size_t e : work.active) {
                    transmitted += static_cast<double>(work.transmit[e].weight[from]);
                }
                weight_sum_[to] += static_cast<float>(transmitted * one * work.received[from]);
            } else if (recipe_.normalize_depth) {
                factor =
                    share(work.received[from]) * (event_weights_.by_aperture() ? share(work.transmitted[from]) : 1.0);
            }
            real_[to] += static_cast<float>(factor * static_cast<double>(work.sums.real[from]));
            imaginary_[to] += static_cast<float>(factor * static_cast<double>(work.sums.imaginary[from]));
        }
    }
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
