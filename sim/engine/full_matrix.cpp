#include "sim/engine/full_matrix.h"

#include <omp.h>

#include <algorithm>
#include <numeric>
#include <optional>

#include "sim/base/parallel.h"
#include "sim/engine/echo_traces.h"
#include "sim/engine/node_sums.h"
#include "sim/engine/product.h"
#include "sim/engine/response.h"

namespace echoloom {

namespace {

struct PlannedCell {
    std::span<const Scatterer> scatterers;
    WindowPlan plan;
    ElementFactors factors;
    std::optional<VirtualElements> virtual_elements;

    /// Summed over its scatterers at fewer nodes than there are elements.
    bool summed_at_nodes() const { return virtual_elements && !virtual_elements->at_elements; }
};

/// The unit of work: a whole cell by virtual elements, or a part of a cell by the direct route.
struct Unit {
    const PlannedCell* cell = nullptr;
    std::span<const Scatterer> scatterers;
    bool first = false;  ///< of its cell
    bool last = false;
};

/// What the first half of the work makes of a unit and the second half uses.
struct UnitResult {
    ResponseGrid responses;  ///< direct route
    NodeSums sums;           ///< virtual elements: a part of the block's storage

    std::size_t held_bytes() const { return 2 * sizeof(float) * responses.real.capacity(); }
};

/// Work space of one thread in the second half.
struct StripWork {
    TraceScratch traces;
    StripSums columns;
};

std::vector<Unit> split_into_units(std::span<const PlannedCell> cells) {
    std::vector<Unit> units;
    for (const PlannedCell& cell : cells) {
        const std::size_t count = cell.scatterers.size();
        const std::size_t part = cell.summed_at_nodes() ? count : scatterers_per_part;
        for (std::size_t at = 0; at < count; at += part) {
            const std::size_t take = std::min(part, count - at);
            units.push_back({&cell, cell.scatterers.subspan(at, take), at == 0, at + take == count});
        }
    }
    return units;
}

std::size_t result_bytes(const Unit& unit, std::size_t padded_elements) {
    const auto bins = static_cast<std::size_t>(unit.cell->plan.bins);
    const std::size_t values = unit.cell->summed_at_nodes() ? NodeSums::values(*unit.cell->virtual_elements)
                                                            : bins * padded_elements * unit.scatterers.size();
    return 2 * sizeof(float) * values;
}

/// Runs some units at a time: responses of all of them first, then every strip of pairs over all of them.
class Block {
  public:
    Block(const EngineContext& context, PairRecord& record, WindowTransforms& transforms, int threads)
        : context_(context), record_(record), transforms_(transforms), threads_(threads) {
        for (std::size_t row = 0; row < context.elements.count; row += strip_rows) {
            StripSums strip;
            strip.first_row = row;
            strip.first_column = row;
            for (std::size_t i = row; i < std::min(row + strip_rows, context.elements.count); ++i) {
                strip.last_column = std::max(strip.last_column, record.pairs.last[i]);
            }
            strip.width = (strip.last_column - row + element_group - 1) / element_group * element_group;
            strips_.push_back(std::move(strip));
        }
        strip_work_.resize(static_cast<std::size_t>(threads));
        nodes_.resize(static_cast<std::size_t>(threads));
    }

    void run(std::span<const Unit> units, std::size_t bytes_allowed) {
        make_room(units, bytes_allowed);
        FirstFailure failure;
#pragma omp parallel for schedule(dynamic) num_threads(threads_)
        for (std::size_t i = 0; i < units.size(); ++i) {
            NodeScratch& scratch = nodes_[static_cast<std::size_t>(omp_get_thread_num())];
            failure.run([&] { form(units[i], results_[i], scratch); });
        }
        failure.rethrow();
        // Each strip is one thread's: it adds the units in their order, so sums and traces keep one order on any number
        // of threads.
#pragma omp parallel for schedule(dynamic) num_threads(threads_)
        for (std::size_t s = 0; s < strips_.size(); ++s) {
            StripWork& work = strip_work_[static_cast<std::size_t>(omp_get_thread_num())];
            failure.run([&] {
                for (std::size_t i = 0; i < units.size(); ++i) {
                    add(units[i], results_[i], strips_[s], work);
                }
            });
        }
        failure.rethrow();
    }

  private:
    /// Results keep their storage from block to block, for clearing new storage costs as much as a tenth of the work;
    /// but responses only while they stay within bounds.
    void make_room(std::span<const Unit> units, std::size_t bytes_allowed) {
        if (results_.size() < units.size()) {
            results_.resize(units.size());
        }
        std::size_t bytes = 0;
        std::size_t values = 0;
        for (std::size_t i = 0; i < results_.size(); ++i) {
            const bool summed = i < units.size() && units[i].cell->summed_at_nodes();
            const bool kept = i < units.size() && !summed;
            bytes += std::max(kept ? result_bytes(units[i], context_.elements.padded) : 0, results_[i].held_bytes());
            values += summed ? 2 * NodeSums::values(*units[i].cell->virtual_elements) : 0;
        }
        if (bytes > bytes_allowed) {
            // New vectors: assigning empty ones would keep the old storage.
            results_ = std::vector<UnitResult>(std::max(results_.size(), units.size()));
        }
        if (sums_.size() < values) {
            sums_ = {};  // first, or both would be held
            sums_ = LargeVector<float>(values);
        }
        std::span<float> left(sums_);
        for (std::size_t i = 0; i < units.size(); ++i) {
            if (units[i].cell->summed_at_nodes()) {
                const std::size_t size = NodeSums::values(*units[i].cell->virtual_elements);
                results_[i].sums = {left.first(size), left.subspan(size, size)};
                left = left.subspan(2 * size);
            }
        }
    }

    void form(const Unit& unit, UnitResult& result, NodeScratch& scratch) {
        if (unit.cell->virtual_elements && unit.cell->virtual_elements->at_elements) {
            compute_node_responses(context_, unit.cell->plan, unit.cell->virtual_elements->factor,
                                   unit.cell->virtual_elements->groups, unit.scatterers, scratch.factor,
                                   {&result.responses, 1});
        } else if (unit.cell->summed_at_nodes()) {
            compute_node_sums(context_, unit.cell->plan, *unit.cell->virtual_elements, unit.scatterers, scratch,
                              result.sums);
        } else {
            compute_responses(context_, context_.elements, unit.cell->plan, unit.scatterers, result.responses);
        }
    }

    void add(const Unit& unit, const UnitResult& result, StripSums& strip, StripWork& work) {
        if (unit.cell->summed_at_nodes()) {
            add_virtual(*unit.cell, result.sums, strip, work);
            return;
        }
        accumulate_products(result.responses, unit.first, strip);
        if (unit.last) {
            add_traces(context_, unit.cell->plan, unit.cell->factors, strip, transforms_, work.traces, record_);
        }
    }

    /// Some columns at a time, so that their sums are still in the cache when they become traces.
    void add_virtual(const PlannedCell& cell, const NodeSums& sums, const StripSums& strip, StripWork& work) {
        constexpr std::size_t columns = 2 * element_group;
        StripSums& some = work.columns;
        some.first_row = strip.first_row;
        some.last_column = strip.last_column;
        for (std::size_t done = 0; done < strip.width; done += columns) {
            some.first_column = strip.first_row + done;
            some.width = std::min(columns, strip.width - done);
            expand_node_sums(sums, *cell.virtual_elements, some);
            add_traces(context_, cell.plan, cell.factors, some, transforms_, work.traces, record_);
        }
    }

    const EngineContext& context_;
    PairRecord& record_;
    WindowTransforms& transforms_;
    int threads_;
    std::vector<UnitResult> results_;
    LargeVector<float> sums_;  ///< of the units in work
    std::vector<StripSums> strips_;
    std::vector<StripWork> strip_work_;
    std::vector<NodeScratch> nodes_;
};

/// True where no echo of a cell can reach the samples that are wanted.
bool misses_record(const EngineContext& context, const WindowPlan& plan, const PairRecord& record) {
    const auto [least, most] = std::minmax_element(
        plan.reference.begin(), plan.reference.begin() + static_cast<std::ptrdiff_t>(context.elements.count));
    const std::int64_t first = 2LL * *least - plan.before;
    const std::int64_t last = 2LL * *most - plan.before + plan.length;
    return last <= record.wanted.first || first > record.wanted.last;
}

/// Runs through the cells of one slab, some at a time.
class SlabRunner {
  public:
    SlabRunner(const EngineContext& context, const FullMatrixWork& work, PairRecord& record,
               WindowTransforms& transforms, Block& block)
        : context_(context), work_(work), record_(record), transforms_(transforms), block_(block) {}

    void run(const CellBlock& slab) {
        const std::size_t step = work_.cells_together();
        const std::span<const Cell> cells(slab.cells);
        for (std::size_t at = 0; at < cells.size(); at += step) {
            const std::vector<PlannedCell> planned =
                plan_cells(slab, cells.subspan(at, std::min(step, cells.size() - at)));
            run_units(split_into_units(planned));
            if (work_.progress) {
                const auto group = cells.subspan(at, planned.size());
                work_.progress(std::accumulate(group.begin(), group.end(), std::size_t{0},
                                               [](std::size_t sum, const Cell& cell) { return sum + cell.count; }));
            }
        }
    }

  private:
    /// As many units at a time as the room for their results allows.
    void run_units(std::span<const Unit> units) {
        std::size_t begin = 0;
        while (begin < units.size()) {
            std::size_t end = begin;
            std::size_t bytes = 0;
            do {
                bytes += result_bytes(units[end], context_.elements.padded);
                ++end;
            } while (end < units.size() &&
                     bytes + result_bytes(units[end], context_.elements.padded) <= work_.responses_bytes);
            block_.run(units.subspan(begin, end - begin), work_.responses_bytes);
            begin = end;
        }
    }

    PlannedCell plan_cell(const CellBlock& slab, const Cell& cell) const {
        PlannedCell planned;
        planned.scatterers = {slab.scatterers.data() + cell.first, cell.count};
        planned.plan = plan_window(context_, planned.scatterers);
        if (misses_record(context_, planned.plan, record_)) {
            planned.scatterers = {};
            return planned;
        }
        planned.virtual_elements =
            plan_virtual_elements(context_, planned.scatterers, record_.pairs.count(), planned.plan);
        planned.factors = element_factors(context_, planned.plan);
        return planned;
    }

    /// Plans of cells; those whose echoes miss the record have no scatterers. Transforms are prepared here, on one
    /// thread.
    std::vector<PlannedCell> plan_cells(const CellBlock& slab, std::span<const Cell> cells) {
        std::vector<PlannedCell> planned(cells.size());
        FirstFailure failure;
#pragma omp parallel for schedule(dynamic) num_threads(work_.threads)
        for (std::size_t i = 0; i < cells.size(); ++i) {
            failure.run([&] { planned[i] = plan_cell(slab, cells[i]); });
        }
        failure.rethrow();
        for (const PlannedCell& cell : planned) {
            if (!cell.scatterers.empty()) {
                transforms_.prepare(cell.plan.length);
            }
        }
        return planned;
    }

    const EngineContext& context_;
    const FullMatrixWork& work_;
    PairRecord& record_;
    WindowTransforms& transforms_;
    Block& block_;
};

/// How many scatterers each stack of cells holds.
std::vector<std::size_t> scatterers_by_stack(const Phantom& phantom, const CellGrid& grid) {
    std::vector<std::size_t> counts(grid.stacks(), 0);
    for_each_scatterer(phantom, phantom.bounds(), [&](std::span<const Scatterer> some) {
        for (const Scatterer& scatterer : some) {
            ++counts[grid.stack(grid.index(scatterer))];
        }
    });
    return counts;
}

}  // namespace

std::size_t FullMatrixWork::cells_together() const {
    return cells_per_block > 0 ? cells_per_block : 16 * static_cast<std::size_t>(threads);
}

void fill_full_matrix(const Phantom& phantom, const EngineContext& context, const CellGrid& grid,
                      const FullMatrixWork& work, PairRecord& record) {
    WindowTransforms transforms;
    Block block(context, record, transforms, work.threads);
    SlabRunner runner(context, work, record, transforms, block);
    if (phantom.candidate_count() <= work.scatterers_in_memory) {
        runner.run(collect_cells(phantom, grid, 0, grid.stacks() - 1, phantom.candidate_count()));
        return;
    }
    const std::vector<std::size_t> counts = scatterers_by_stack(phantom, grid);
    std::size_t first = 0;
    while (first < counts.size()) {
        std::size_t held = counts[first];
        std::size_t last = first;
        while (last + 1 < counts.size() && held + counts[last + 1] <= work.scatterers_in_memory) {
            held += counts[++last];
        }
        if (held > 0) {
            runner.run(collect_cells(phantom, grid, first, last, held));
        }
        first = last + 1;
    }
}

}  // namespace echoloom
