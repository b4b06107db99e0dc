#include "sim/engine/full_matrix.h"

#include <omp.h>

#include <algorithm>
#include <atomic>
#include <exception>

#include "sim/engine/echo_traces.h"
#include "sim/engine/product.h"
#include "sim/engine/response.h"

namespace echoloom {

namespace {

/// One cell, or a part of a crowded one: the unit whose responses are formed and multiplied at a time.
struct Part {
    const Cell* cell = nullptr;
    std::span<const Scatterer> scatterers;
    bool first = false;
    bool last = false;
    std::size_t plan = 0;  ///< index of its cell's plan in the block
};

struct PlannedCell {
    WindowPlan plan;
    ElementFactors factors;
};

/// Work on one group of parts at a time: responses of all of them first, then every strip of pairs over all of them.
class Block {
  public:
    Block(const EngineContext& context, PairRecord& record, WindowTransforms& transforms, int threads)
        : context_(context), record_(record), transforms_(transforms), threads_(threads) {
        for (std::size_t row = 0; row < context.elements.count; row += strip_rows) {
            StripSums strip;
            strip.first_row = row;
            for (std::size_t i = row; i < std::min(row + strip_rows, context.elements.count); ++i) {
                strip.last_column = std::max(strip.last_column, record.pairs.last[i]);
            }
            strip.width = (strip.last_column - row + element_group - 1) / element_group * element_group;
            strips_.push_back(std::move(strip));
        }
        scratch_.resize(static_cast<std::size_t>(threads));
    }

    void run(std::span<const Part> parts, std::span<const PlannedCell> cells) {
        if (responses_.size() < parts.size()) {
            responses_.resize(parts.size());
        }
        form_responses(parts, cells);
        multiply_and_add(parts, cells);
    }

  private:
    void form_responses(std::span<const Part> parts, std::span<const PlannedCell> cells) {
#pragma omp parallel for schedule(dynamic) num_threads(threads_)
        for (std::size_t i = 0; i < parts.size(); ++i) {
            compute_responses(context_, cells[parts[i].plan].plan, parts[i].scatterers, responses_[i]);
        }
    }

    /// Each strip is one thread's: it adds the parts in their order, so sums and traces keep one order on any number of
    /// threads.
    void multiply_and_add(std::span<const Part> parts, std::span<const PlannedCell> cells) {
#pragma omp parallel for schedule(dynamic) num_threads(threads_)
        for (std::size_t s = 0; s < strips_.size(); ++s) {
            TraceScratch& scratch = scratch_[static_cast<std::size_t>(omp_get_thread_num())];
            for (std::size_t i = 0; i < parts.size(); ++i) {
                accumulate_products(responses_[i], parts[i].first, strips_[s]);
                if (parts[i].last) {
                    const PlannedCell& cell = cells[parts[i].plan];
                    add_traces(context_, cell.plan, cell.factors, strips_[s], transforms_, scratch, record_);
                }
            }
        }
    }

    const EngineContext& context_;
    PairRecord& record_;
    WindowTransforms& transforms_;
    int threads_;
    std::vector<ResponseGrid> responses_;
    std::vector<StripSums> strips_;
    std::vector<TraceScratch> scratch_;
};

/// Whole cells go through in groups; a crowded cell's parts may be split over groups, for the strips keep its sums.
std::vector<Part> split_into_parts(const CellBlock& block) {
    std::vector<Part> parts;
    for (const Cell& cell : block.cells) {
        const std::span<const Scatterer> all(block.scatterers.data() + cell.first, cell.count);
        for (std::size_t at = 0; at < cell.count; at += scatterers_per_part) {
            const std::size_t take = std::min(scatterers_per_part, cell.count - at);
            parts.push_back({&cell, all.subspan(at, take), at == 0, at + take == cell.count, 0});
        }
    }
    return parts;
}

std::size_t response_bytes(const EngineContext& context, const WindowPlan& plan) {
    return 2 * sizeof(float) * static_cast<std::size_t>(plan.bins) * context.elements.padded * scatterers_per_part;
}

/// True where no echo of a cell can reach the samples that are wanted.
bool misses_record(const EngineContext& context, const WindowPlan& plan, const PairRecord& record) {
    const auto [least, most] = std::minmax_element(
        plan.reference.begin(), plan.reference.begin() + static_cast<std::ptrdiff_t>(context.elements.count));
    const std::int64_t first = 2LL * *least - plan.before;
    const std::int64_t last = 2LL * *most - plan.before + plan.length;
    return last <= record.wanted.first || first > record.wanted.last;
}

/// Runs through the parts of one slab of cells.
class SlabRunner {
  public:
    SlabRunner(const EngineContext& context, const FullMatrixWork& work, PairRecord& record,
               WindowTransforms& transforms, Block& block)
        : context_(context), work_(work), record_(record), transforms_(transforms), block_(block) {}

    void run(const CellBlock& cells) {
        std::vector<Part> parts = split_into_parts(cells);
        std::size_t at = 0;
        while (at < parts.size()) {
            at = run_group(cells, parts, at);
        }
    }

  private:
    /// Plans the cells of one group, computes it, and returns where the next begins.
    std::size_t run_group(const CellBlock& cells, std::vector<Part>& parts, std::size_t begin) {
        const std::size_t cells_at_most = work_.cells_per_block > 0 ? work_.cells_per_block : 64;
        std::size_t end = begin;
        std::vector<const Cell*> group;
        while (end < parts.size() && group.size() < cells_at_most && end - begin < 4 * cells_at_most) {
            if (group.empty() || group.back() != parts[end].cell) {
                group.push_back(parts[end].cell);
            }
            parts[end].plan = group.size() - 1;
            ++end;
        }
        std::vector<PlannedCell> planned = plan_group(cells, group);
        std::size_t bytes = 0;
        std::size_t fits = begin;
        while (fits < end) {
            bytes += response_bytes(context_, planned[parts[fits].plan].plan);
            if (bytes > work_.responses_bytes && fits > begin) {
                break;
            }
            ++fits;
        }
        std::vector<Part> wanted;
        std::size_t scatterers = 0;
        for (std::size_t i = begin; i < fits; ++i) {
            scatterers += parts[i].scatterers.size();
            if (!misses_record(context_, planned[parts[i].plan].plan, record_)) {
                wanted.push_back(parts[i]);
            }
        }
        block_.run(wanted, planned);
        if (work_.progress) {
            work_.progress(scatterers);
        }
        return fits;
    }

    std::vector<PlannedCell> plan_group(const CellBlock& cells, std::span<const Cell* const> group) {
        std::vector<PlannedCell> planned(group.size());
#pragma omp parallel for schedule(dynamic) num_threads(work_.threads)
        for (std::size_t i = 0; i < group.size(); ++i) {
            planned[i].plan = plan_window(context_, {cells.scatterers.data() + group[i]->first, group[i]->count});
            planned[i].factors = element_factors(context_, planned[i].plan);
        }
        for (const PlannedCell& cell : planned) {
            transforms_.prepare(cell.plan.length);
        }
        return planned;
    }

    const EngineContext& context_;
    const FullMatrixWork& work_;
    PairRecord& record_;
    WindowTransforms& transforms_;
    Block& block_;
};

/// How many scatterers each layer of cells holds.
std::vector<std::size_t> scatterers_by_layer(const Phantom& phantom, const CellGrid& grid) {
    std::vector<std::size_t> counts(static_cast<std::size_t>(grid.layers()), 0);
    for_each_scatterer(phantom, phantom.bounds(), [&](std::span<const Scatterer> some) {
        for (const Scatterer& scatterer : some) {
            ++counts[static_cast<std::size_t>(grid.index(scatterer).layer)];
        }
    });
    return counts;
}

}  // namespace

void fill_full_matrix(const Phantom& phantom, const EngineContext& context, const CellGrid& grid,
                      const FullMatrixWork& work, PairRecord& record) {
    WindowTransforms transforms;
    Block block(context, record, transforms, work.threads);
    SlabRunner runner(context, work, record, transforms, block);
    if (phantom.candidate_count() <= work.scatterers_in_memory) {
        runner.run(collect_cells(phantom, grid, 0, grid.layers() - 1));
        return;
    }
    const std::vector<std::size_t> counts = scatterers_by_layer(phantom, grid);
    std::int64_t first = 0;
    while (first < grid.layers()) {
        std::size_t held = counts[static_cast<std::size_t>(first)];
        std::int64_t last = first;
        while (last + 1 < grid.layers() &&
               held + counts[static_cast<std::size_t>(last + 1)] <= work.scatterers_in_memory) {
            held += counts[static_cast<std::size_t>(++last)];
        }
        runner.run(collect_cells(phantom, grid, first, last));
        first = last + 1;
    }
}

}  // namespace echoloom
