#include "sim/engine/swept.h"

#include <omp.h>

#include <algorithm>
#include <cmath>
#include <numeric>
#include <string>

#include "sim/base/error.h"
#include "sim/base/parallel.h"
#include "sim/base/progress.h"
#include "sim/base/text.h"
#include "sim/engine/head_echoes.h"
#include "sim/engine/window_plan.h"

namespace echoloom {

namespace {

/// Every event looks at every scatterer; more than this many would take days.
constexpr std::size_t max_scatterers = 4'000'000;

/// Longest way out and back: to the far corner from anywhere the head can be.
double longest_path_m(const Phantom& phantom, const Probe& probe, const HeadMotion& head) {
    const Box box = phantom.bounds();
    const Vec3 reach = box.least.cwiseAbs().cwiseMax(box.most.cwiseAbs());
    return 2.0 * (reach.norm() + 2.0 * head.axis_to_face_m + probe.elements.back().outer_m);
}

std::vector<HeadContext> contexts_of(const Phantom& phantom, const Probe& probe, const Scan& scan, double tolerance) {
    const HeadMotion head = scan.head.value_or(HeadMotion{});
    const double longest_m = longest_path_m(phantom, probe, head);
    // Far off its axis a ring transmits and receives a ten-thousandth of what it does ahead, but not less of the lowest
    // frequencies; what the pulse has of those, and the kink of a zero-phase spectrum at 0 Hz, would ring through any
    // short window. So its two parts are computed apart here even without loss.
    std::vector<HeadContext> contexts;
    for (const PulseBand& band : split_pulse(probe)) {
        // There the lower part is what is left of the echo: its tails must be right by themselves.
        const double strict = band.holds_kink() ? 0.3 * tolerance : tolerance;
        EchoTable echoes(band, phantom.medium, probe.center_Hz, scan.sampling_rate_Hz, longest_m, strict);
        contexts.push_back({probe, head, phantom.medium, band, scan.sampling_rate_Hz, tolerance, std::move(echoes)});
    }
    return contexts;
}

std::vector<Scatterer> all_scatterers(const Phantom& phantom) {
    std::vector<Scatterer> all;
    all.reserve(phantom.candidate_count());
    for_each_scatterer(phantom, phantom.bounds(),
                       [&](std::span<const Scatterer> some) { all.insert(all.end(), some.begin(), some.end()); });
    return all;
}

int thread_count(const EngineSettings& settings) {
    return settings.threads > 0 ? settings.threads : omp_get_num_procs();
}

/// What one thread works with.
struct Worker {
    HeadScratch scratch;
    std::vector<EventEchoes> echoes;  ///< [part of the pulse]
    std::vector<float> samples;
};

/// Events side by side, as many at a time as there are threads, each whole by one of them.
class SweptRun {
  public:
    SweptRun(const Phantom& phantom, const Probe& probe, const Scan& scan, const EngineSettings& settings)
        : scan_(scan),
          contexts_(contexts_of(phantom, probe, scan, settings.tolerance)),
          scatterers_(all_scatterers(phantom)),
          workers_(static_cast<std::size_t>(thread_count(settings))) {
        for (Worker& worker : workers_) {
            worker.echoes.resize(contexts_.size());
            worker.samples.resize(scan.channels() * scan.samples);
        }
    }

    void run(const EventSink& sink, bool quiet) {
        Progress progress("echoes", scan_.events.size(), quiet);
        for (std::size_t first = 0; first < scan_.events.size(); first += workers_.size()) {
            const std::size_t count = std::min(workers_.size(), scan_.events.size() - first);
            for_each_worker(count, [&](Worker& worker, std::size_t i) { plan(worker, scan_.events[first + i]); });
            prepare_transforms(count);
            for_each_worker(count, [&](Worker& worker, std::size_t i) { add(worker, scan_.events[first + i]); });
            for (std::size_t i = 0; i < count; ++i) {
                sink(first + i, workers_[i].samples);
            }
            progress.advance(count);
        }
    }

  private:
    template <class Work>
    void for_each_worker(std::size_t count, const Work& work) {
        FirstFailure failure;
        const auto threads = static_cast<int>(workers_.size());
#pragma omp parallel for schedule(static) num_threads(threads)
        for (std::size_t i = 0; i < count; ++i) {
            failure.run([&] { work(workers_[i], i); });
        }
        failure.rethrow();
    }

    void plan(Worker& worker, const TransmitEvent& event) const {
        for (std::size_t part = 0; part < contexts_.size(); ++part) {
            worker.echoes[part] = plan_event(contexts_[part], event, scan_.samples, scatterers_);
        }
    }

    void prepare_transforms(std::size_t count) {
        for (const Worker& worker : std::span(workers_).first(count)) {
            for (const EventEchoes& echoes : worker.echoes) {
                for (const EchoGroup& group : echoes.groups) {
                    transforms_.prepare(group.length);
                }
            }
        }
    }

    void add(Worker& worker, const TransmitEvent& event) const {
        std::ranges::fill(worker.samples, 0.0F);
        for (std::size_t part = 0; part < contexts_.size(); ++part) {
            add_event(contexts_[part], event, worker.echoes[part], transforms_, worker.scratch, worker.samples);
        }
    }

    const Scan& scan_;
    std::vector<HeadContext> contexts_;
    std::vector<Scatterer> scatterers_;
    RealTransforms transforms_;
    std::vector<Worker> workers_;
};

}  // namespace

bool is_ring_probe(const Probe& probe) {
    return probe.elements.front().is_ring();
}

Estimate estimate_swept(const Phantom& phantom, const Scan& scan, const EngineSettings& settings) {
    const auto candidates = static_cast<double>(phantom.candidate_count());
    const double threads = thread_count(settings);
    constexpr double program = 130e6;
    Estimate out;
    out.candidate_scatterers = candidates;
    // Each thread holds an event's sightings for either part of the pulse, and once more while it sorts them.
    out.memory_bytes = program + candidates * (sizeof(Scatterer) + threads * 4.0 * (sizeof(Sighting) + 16.0)) +
                       threads * 4.0 * static_cast<double>(scan.channels() * scan.samples);
    out.file_bytes = 4.0 * static_cast<double>(scan.events.size() * scan.channels() * scan.samples);
    out.words = plain(candidates) + (candidates == 1.0 ? " scatterer" : " scatterers") +
                ", computed anew for each of " + counted(scan.events.size(), "event") + " of " +
                counted(scan.channels(), "ring") + " by " + counted(scan.samples, "sample") + ": at most " +
                human_bytes(out.memory_bytes) + " of memory, a file of " + human_bytes(out.file_bytes);
    return out;
}

void simulate_swept(const Phantom& phantom, const Probe& probe, const Scan& scan, const EngineSettings& settings,
                    const EventSink& sink) {
    if (phantom.candidate_count() > max_scatterers) {
        throw InputError("a rotating head sees every scatterer anew in every event, and " +
                         plain(static_cast<double>(phantom.candidate_count())) + " are too many; give at most " +
                         plain(static_cast<double>(max_scatterers)) + ": lower a density or shrink a region");
    }
    SweptRun(phantom, probe, scan, settings).run(sink, settings.quiet);
}

}  // namespace echoloom
