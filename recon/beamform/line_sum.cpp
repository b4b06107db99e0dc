#include "recon/beamform/line_sum.h"

#include <omp.h>

#include <algorithm>
#include <numeric>

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
constexpr std::size_t most_tables = 4;

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

LineSetting setting_of(const RecordingInfo& info, const Recipe& recipe, const LineGrid& grid,
                       const TracePreparation& preparation) {
    return {recipe.normalize_depth,
            grid.depth_m,
            assumed_sound_speed(recipe, info),
            upsampling_factor(recipe.interpolation) * info.sampling_rate_Hz,
            preparation.row_floats(),
            Aperture(recipe, info),
            ReceiveFocus(recipe)};
}

class LineSum {
  public:
    LineSum(const RecordingInfo& info, const Recipe& recipe, LineGrid grid, std::size_t trace_bytes);

    void run(const EventReader& read_event, bool quiet);
    Beamformed result() &&;

  private:
    /// What one thread works with.
    struct Worker {
        TracePreparation::Workspace workspace;
        std::vector<float> bank;
        LineTables tables;
    };
    /// The events of a batch that serve one line: a stretch of `order_`.
    struct Run {
        std::size_t first, count;
    };

    std::span<float> slot(std::size_t event_of_batch) {
        return std::span(samples_).subspan(event_of_batch * event_samples_, event_samples_);
    }
    void sum_batch(std::size_t first_event, std::size_t count);
    void sum_event(std::size_t event, std::span<const float> samples, Worker& worker);

    const RecordingInfo& info_;
    LineGrid grid_;
    TracePreparation preparation_;
    LineSetting setting_;
    TapTable taps_;
    LineGeometries geometries_;
    std::vector<Served> served_;  ///< [event]
    ZoneGains zones_;
    std::size_t event_samples_;
    std::size_t most_events_;     ///< of a batch
    std::vector<float> samples_;  ///< [event of a batch, channel, sample]
    std::vector<std::size_t> order_;
    std::vector<Run> runs_;
    std::vector<Worker> workers_;  ///< [thread]
    std::vector<float> real_;
};

LineSum::LineSum(const RecordingInfo& info, const Recipe& recipe, LineGrid grid, std::size_t trace_bytes)
    : info_(info),
      grid_(std::move(grid)),
      preparation_(info, recipe, TracePreparation::Form::real),
      setting_(setting_of(info, recipe, grid_, preparation_)),
      taps_(recipe.interpolation, 1),
      geometries_(line_geometries(info)),
      served_(served_by(info)),
      zones_(zone_gains(info, setting_)),
      event_samples_(info.channels * info.samples),
      real_(grid_.origin_m.size() * grid_.depth_m.size(), 0.0F) {
    // Each thread has a bank of its own, so that more threads than events of a batch would be idle.
    const std::size_t event_bytes = event_samples_ * sizeof(float);
    const std::size_t bank_bytes = info.channels * preparation_.row_floats() * sizeof(float);
    const std::size_t threads =
        std::clamp<std::size_t>(trace_bytes / (event_bytes + bank_bytes), 1,
                                std::min(info.events.size(), static_cast<std::size_t>(omp_get_max_threads())));
    const std::size_t left = trace_bytes - std::min(trace_bytes, threads * bank_bytes);
    most_events_ = std::clamp(left / event_bytes, threads, info.events.size());
    samples_.resize(most_events_ * event_samples_);
    order_.reserve(most_events_);
    runs_.reserve(most_events_);

    const std::size_t tables =
        std::clamp<std::size_t>(table_bytes / (threads * setting_.most_table_bytes(info.channels)), 1, most_tables);
    workers_.reserve(threads);
    for (std::size_t thread = 0; thread < threads; ++thread) {
        workers_.push_back(
            {preparation_.workspace(), std::vector<float>(info.channels * preparation_.row_floats()), LineTables(setting_, info.channels, tables)});
    }
}

void LineSum::run(const EventReader& read_event, bool quiet) {
    Progress progress("beamforming", info_.events.size(), quiet);
    for (std::size_t first = 0; first < info_.events.size(); first += most_events_) {
        const std::size_t count = std::min(most_events_, info_.events.size() - first);
        for (std::size_t i = 0; i < count; ++i) {
            read_event(first + i, slot(i));
        }
        sum_batch(first, count);
        progress.advance(count);
    }
}

void LineSum::sum_batch(std::size_t first_event, std::size_t count) {
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
                sum_event(first_event + order_[i], slot(order_[i]), worker);
            }
        });
    }
    failure.rethrow();
}

void LineSum::sum_event(std::size_t event, std::span<const float> samples, Worker& worker) {
    for (std::size_t channel = 0; channel < info_.channels; ++channel) {
        preparation_.prepare(samples.subspan(channel * info_.samples, info_.samples),
                             std::span(worker.bank).subspan(channel * setting_.row_samples, setting_.row_samples),
                             worker.workspace);
    }
    const std::size_t geometry = geometries_.of_event[event];
    const LineTable& table = worker.tables.for_line(geometry, geometries_.list[geometry]);
    const auto [line, share] = served_[event];
    const auto column = std::span(real_).subspan(line * grid_.depth_m.size(), grid_.depth_m.size());
    const std::vector<float>& gains = zones_.by_depth[event];
    for (std::size_t depth = 0; depth < gains.size(); ++depth) {
        if (gains[depth] != 0.0F) {
            column[depth] += gains[depth] * sum_line_terms(table.at(depth), worker.bank.data(), taps_);
        }
    }
    for (std::size_t depth = 0; gains.empty() && depth < column.size(); ++depth) {
        column[depth] += share * sum_line_terms(table.at(depth), worker.bank.data(), taps_);
    }
}

Beamformed LineSum::result() && {
    const std::size_t columns = grid_.origin_m.size();
    const std::size_t depths = grid_.depth_m.size();
    return {std::move(grid_), columns, depths, std::move(real_), {}};
}

}  // namespace

Beamformed sum_lines(const RecordingInfo& info, const EventReader& read_event, const Recipe& recipe, LineGrid grid,
                     bool quiet, std::size_t trace_bytes) {
    LineSum sum(info, recipe, std::move(grid), trace_bytes);
    sum.run(read_event, quiet);
    return std::move(sum).result();
}

}  // namespace echoloom
