#include "recon/beamform/line_sum.h"

#include <omp.h>

#include <algorithm>
#include <numeric>

#include "recon/beamform/line_kernel.h"
#include "recon/beamform/line_table.h"
#include "recon/beamform/scan_kind.h"
#include "recon/beamform/trace_preparation.h"
#include "recon/beamform/zone_blend.h"
#include "sim/base/parallel.h"
#include "sim/base/progress.h"

namespace echoloom {
namespace {

/// Tables of all threads together, but for one each.
constexpr std::size_t table_bytes = std::size_t{32} << 20;
constexpr std::size_t max_tables = 4;

/// The line an event serves, and its share in it where all its events are alike.
struct Served {
    std::size_t line;
    float share;
};

std::vector<Served> served_by(const RecordingInfo& info) {
    const std::vector<LineEvents> lines = events_by_line(info);
    std::vector<Served> served(info.events.size());
    for (std::size_t line = 0; line < lines.size(); ++line) {
        for (const std::size_t event : lines[line].events) {
            served[event] = {line, 1.0F / static_cast<float>(lines[line].events.size())};
        }
    }
    return served;
}

LineSetting setting_of(const RecordingInfo& info, const Recipe& recipe, const LineGrid& grid) {
    return {recipe.normalize_depth,
            grid.depth_m,
            assumed_sound_speed(recipe, info),
            upsampling_factor(recipe.interpolation) * info.sampling_rate_Hz,
            Aperture(recipe, info),
            ReceiveFocus(recipe)};
}

}  // namespace

struct LineSum::State {
    /// What one thread works with.
    struct Worker {
        TracePreparation::Workspace workspace;
        std::vector<float> bank;  ///< [channel, sample with silence]; empty where traces are taken as they are
        LineTables tables;
        std::vector<float> line;  ///< [padded depth]
    };
    /// The events of a batch that serve one line: a stretch of `order_`.
    struct Run {
        std::size_t first, count;
    };

    State(const RecordingInfo& info, const Recipe& recipe, LineGrid grid, std::size_t trace_bytes);

    std::span<float> room(std::size_t event_of_batch) {
        return samples_.empty() ? std::span<float>()
                                : std::span(samples_).subspan(event_of_batch * event_samples_, event_samples_);
    }
    /// Gives the samples of an event: its own, or those it puts into the room it is given.
    using Source = std::function<std::span<const float>(std::size_t event, std::span<float> room)>;
    void run(const Source& source, bool quiet);
    void sum_batch(std::size_t first_event, std::size_t count);
    void sum_event(std::size_t event, std::span<const float> samples, Worker& worker);
    LineTraces traces_of(std::span<const float> samples, Worker& worker) const;

    const RecordingInfo& info_;
    Interpolation interpolation_;
    LineGrid grid_;
    TracePreparation preparation_;
    LineSetting setting_;
    LineGeometries geometries_;
    std::vector<Served> served_;  ///< [event]
    ZoneGains zones_;
    std::size_t event_samples_;
    std::size_t max_events_;      ///< of a batch
    std::vector<float> samples_;  ///< [event of a batch, channel, sample], where the source has none of its own
    std::vector<std::span<const float>> events_;  ///< [event of a batch]
    std::vector<std::size_t> order_;
    std::vector<Run> runs_;
    std::vector<Worker> workers_;  ///< [thread]
    std::vector<float> real_;
};

LineSum::State::State(const RecordingInfo& info, const Recipe& recipe, LineGrid grid, std::size_t trace_bytes)
    : info_(info),
      interpolation_(recipe.interpolation),
      grid_(std::move(grid)),
      preparation_(info, recipe, TracePreparation::Form::lines),
      setting_(setting_of(info, recipe, grid_)),
      geometries_(line_geometries(info)),
      served_(served_by(info)),
      zones_(zone_gains(info, setting_)),
      event_samples_(info.channels * info.samples),
      real_(grid_.origin_m.size() * grid_.depth_m.size(), 0.0F) {
    // Each thread has a bank of its own, so that more threads than events of a batch would be idle.
    const std::size_t event_bytes = event_samples_ * sizeof(float);
    const std::size_t bank_floats = preparation_.copies() ? 0 : info.channels * preparation_.row_floats();
    const std::size_t bank_bytes = bank_floats * sizeof(float);
    const std::size_t threads =
        std::clamp<std::size_t>(trace_bytes / (event_bytes + bank_bytes), 1,
                                std::min(info.events.size(), static_cast<std::size_t>(omp_get_max_threads())));
    const std::size_t left = trace_bytes - std::min(trace_bytes, threads * bank_bytes);
    max_events_ = std::clamp(left / event_bytes, threads, info.events.size());
    events_.resize(max_events_);
    order_.reserve(max_events_);
    runs_.reserve(max_events_);

    const std::size_t tables =
        std::clamp<std::size_t>(table_bytes / (threads * setting_.table_bytes(info.channels)), 1, max_tables);
    workers_.reserve(threads);
    for (std::size_t thread = 0; thread < threads; ++thread) {
        workers_.push_back({preparation_.workspace(), std::vector<float>(bank_floats),
                            LineTables(setting_, info.channels, tables), std::vector<float>(setting_.padded_depths())});
    }
}

void LineSum::State::run(const Source& source, bool quiet) {
    std::ranges::fill(real_, 0.0F);
    Progress progress("beamforming", info_.events.size(), quiet);
    for (std::size_t first = 0; first < info_.events.size(); first += max_events_) {
        const std::size_t count = std::min(max_events_, info_.events.size() - first);
        for (std::size_t i = 0; i < count; ++i) {
            events_[i] = source(first + i, room(i));
        }
        sum_batch(first, count);
        progress.advance(count);
    }
}

void LineSum::State::sum_batch(std::size_t first_event, std::size_t count) {
    const auto line_of = [&](std::size_t event_of_batch) { return served_[first_event + event_of_batch].line; };
    order_.resize(count);
    std::iota(order_.begin(), order_.end(), std::size_t{0});
    std::ranges::sort(order_, {}, [&](std::size_t i) { return std::pair(line_of(i), i); });
    runs_.clear();
    for (std::size_t i = 0; i < count; ++i) {
        if (i > 0 && line_of(order_[i]) == line_of(order_[i - 1])) {
            ++runs_.back().count;
        } else {
            runs_.push_back({i, 1});
        }
    }
    const auto threads = static_cast<int>(workers_.size());
    FirstFailure failure;
#pragma omp parallel for schedule(dynamic) num_threads(threads)
    for (std::size_t run = 0; run < runs_.size(); ++run) {
        Worker& worker = workers_[static_cast<std::size_t>(omp_get_thread_num())];
        failure.run([&] {
            for (std::size_t i = runs_[run].first; i < runs_[run].first + runs_[run].count; ++i) {
                sum_event(first_event + order_[i], events_[order_[i]], worker);
            }
        });
    }
    failure.rethrow();
}

/// The traces of an event as they are summed: as recorded, or made ready in the worker's bank.
LineTraces LineSum::State::traces_of(std::span<const float> samples, Worker& worker) const {
    if (preparation_.copies()) {
        return {samples.data(), info_.samples, static_cast<std::int32_t>(info_.samples)};
    }
    const std::size_t row = preparation_.row_floats();
    for (std::size_t channel = 0; channel < info_.channels; ++channel) {
        preparation_.prepare(samples.subspan(channel * info_.samples, info_.samples),
                             std::span(worker.bank).subspan(channel * row, row), worker.workspace);
    }
    return {worker.bank.data() + TracePreparation::silence, row,
            static_cast<std::int32_t>(preparation_.trace_samples())};
}

void LineSum::State::sum_event(std::size_t event, std::span<const float> samples, Worker& worker) {
    const LineTraces traces = traces_of(samples, worker);
    const std::size_t geometry = geometries_.of_event[event];
    const LineTable& table = worker.tables.for_line(geometry, geometries_.list[geometry]);
    std::ranges::fill(worker.line, 0.0F);
    add_to_line(table.channels, traces, interpolation_, worker.line);
    const auto [line, share] = served_[event];
    const auto column = std::span(real_).subspan(line * grid_.depth_m.size(), grid_.depth_m.size());
    const std::vector<float>& gains = zones_.by_depth[event];
    for (std::size_t depth = 0; depth < column.size(); ++depth) {
        column[depth] += (gains.empty() ? share : gains[depth]) * worker.line[depth];
    }
}

LineSum::LineSum(const RecordingInfo& info, const Recipe& recipe, LineGrid grid, std::size_t trace_bytes)
    : state_(std::make_unique<State>(info, recipe, std::move(grid), trace_bytes)) {}
LineSum::~LineSum() = default;

Beamformed LineSum::form(const EventReader& read_event, bool quiet) {
    state_->samples_.resize(state_->max_events_ * state_->event_samples_);
    state_->run(
        [&](std::size_t event, std::span<float> room) {
            read_event(event, room);
            return std::span<const float>(room);
        },
        quiet);
    return {state_->grid_, state_->grid_.origin_m.size(), state_->grid_.depth_m.size(), state_->real_, {}};
}

void LineSum::form_from(std::span<const std::span<const float>> events, std::span<float> out) {
    state_->run([&](std::size_t event, std::span<float>) { return events[event]; }, true);
    std::ranges::copy(state_->real_, out.begin());
}

Beamformed sum_lines(const RecordingInfo& info, const EventReader& read_event, const Recipe& recipe, LineGrid grid,
                     bool quiet, std::size_t trace_bytes) {
    return LineSum(info, recipe, std::move(grid), trace_bytes).form(read_event, quiet);
}

}  // namespace echoloom
