#include "recon/beamform/line_sum.h"

#include "recon/beamform/line_table.h"
#include "recon/beamform/scan_kind.h"
#include "sim/base/progress.h"

namespace echoloom {
namespace {

LineGeometry geometry_of(const RecordingInfo& info, const TransmitEvent& event) {
    LineGeometry geometry{event.direction, event.start_time_s, {}};
    for (const int listener : event.listeners) {
        geometry.listeners_m.push_back(info.probe.elements[static_cast<std::size_t>(listener)].center_m -
                                       event.origin_m);
    }
    return geometry;
}

}  // namespace

Beamformed sum_lines(const RecordingInfo& info, const EventReader& read_event, const Recipe& recipe, LineGrid grid,
                     bool quiet) {
    const std::size_t depths = grid.depth_m.size();
    const int factor = upsampling_factor(recipe.interpolation);
    TraceBank bank(info.channels, info.samples, recipe.interpolation, TraceBank::Form::real);
    LineTables tables({&recipe, &grid.depth_m, assumed_sound_speed(recipe, info), factor * info.sampling_rate_Hz,
                       bank.row_samples(), Aperture(recipe, info), ReceiveFocus(recipe)});
    const TapTable taps(recipe.interpolation, 1);
    const std::vector<LineEvents> lines = events_by_line(info);

    // Events are read in rising order, whatever the order of their lines.
    struct Served {
        std::size_t line;
        float share;
    };
    std::vector<Served> served(info.events.size());
    for (std::size_t line = 0; line < lines.size(); ++line) {
        for (const std::size_t event : lines[line].events) {
            served[event] = {line, 1.0F / static_cast<float>(lines[line].events.size())};
        }
    }

    std::vector<float> real(lines.size() * depths, 0.0F);
    std::vector<float> samples(info.channels * info.samples);
    Progress progress("beamforming", info.events.size(), quiet);
    for (std::size_t event = 0; event < info.events.size(); ++event) {
        read_event(event, samples);
        bank.load(samples);
        const LineTable& table = tables.for_line(geometry_of(info, info.events[event]));
        float* const column = real.data() + served[event].line * depths;
#pragma omp parallel for schedule(static)
        for (std::size_t depth = 0; depth < depths; ++depth) {
            column[depth] += served[event].share * sum_line_terms(table.at(depth), bank.data().data(), taps);
        }
        progress.advance();
    }
    const std::size_t columns = lines.size();
    return {std::move(grid), columns, depths, std::move(real), {}};
}

}  // namespace echoloom
