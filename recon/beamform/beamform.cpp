#include "recon/beamform/beamform.h"

#include "recon/beamform/grid_axes.h"
#include "recon/beamform/line_sum.h"
#include "recon/beamform/pixel_sum.h"

namespace echoloom {

double assumed_sound_speed(const Recipe& recipe, const RecordingInfo& info) {
    return recipe.sound_speed_m_s.value_or(info.medium.sound_speed_m_s);
}

Beamformed beamform(const RecordingInfo& info, const EventReader& read_event, const Recipe& recipe, bool quiet) {
    const ScanKind kind = scan_kind(info, recipe);
    Grid grid = image_grid(recipe, info, kind);
    if (kind == ScanKind::lines) {
        return sum_lines(info, read_event, recipe, std::get<LineGrid>(std::move(grid)), quiet);
    }
    return sum_pixels(info, read_event, recipe, std::move(grid), kind, quiet);
}

Beamformed beamform(RecordingReader& recording, const Recipe& recipe, bool quiet) {
    const EventReader reader = [&](std::size_t event, std::span<float> samples) {
        recording.read_event(event, samples);
    };
    return beamform(recording.info(), reader, recipe, quiet);
}

}  // namespace echoloom
