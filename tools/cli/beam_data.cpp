// The beams as CSV and as JSON.

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "recon/measure/csv.h"
#include "tools/cli/beam.h"
#include "tools/cli/beam_numbers.h"
#include "tools/cli/output.h"

namespace echoloom {

namespace {

constexpr double mm = 1e-3;

nlohmann::ordered_json number(std::optional<double> value) {
    return value ? nlohmann::ordered_json(*value) : nlohmann::ordered_json(nullptr);
}

nlohmann::ordered_json pattern_json(const Beam& beam) {
    nlohmann::ordered_json gratings = nlohmann::ordered_json::array();
    for (const GratingLobe& lobe : beam.gratings) {
        gratings.push_back(
            {{"order", lobe.order},
             {"theory_deg", number(times(lobe.angle_rad, degrees))},
             {"measured_deg", number(angle(lobe.found))},
             {"level_dB", number(dB(lobe.found))},
             {"theory_far_field_dB",
              number(lobe.angle_rad ? std::optional(20.0 * std::log10(std::max(lobe.level, 1e-12))) : std::nullopt)}});
    }
    const BeamPattern& pattern = *beam.pattern;
    return {{"distance_mm", number(times(pattern.distance_m, 1.0 / mm))},
            {"main_lobe_deg", pattern.angle_rad[pattern.top] * degrees},
            {"width_6dB_deg", number(pattern_width(beam.pattern))},
            {"width_6dB_theory_deg", number(pattern_width(beam.theory_pattern))},
            {"peak_side_lobe_dB", number(dB(beam.side_lobe))},
            {"peak_side_lobe_position_deg", number(angle(beam.side_lobe))},
            {"peak_side_lobe_theory_dB", number(dB(beam.theory_side_lobe))},
            {"grating_lobes", gratings}};
}

}  // namespace

std::string beam_csv(std::span<const Beam> beams) {
    std::string csv =
        "# " + caution_of(true) + '\n' +
        "probe,scan,event_index,path,pulsed,frequency_MHz,aperture_mm,near_zone_theory_mm,last_axial_maximum_mm,"
        "half_angle_deg,half_angle_theory_deg,depth_mm,axis_pressure_rho_c_v,axis_pressure_rho_c_v_squared,"
        "width_6dB_mm\n";
    for (const Beam& beam : beams) {
        const std::string common =
            csv_word(beam.probe_name) + ',' + csv_word(beam.scan_name) + ',' + std::to_string(beam.event) + ',' +
            csv_word(path_name(beam.path)) + ',' + (beam.view.pulsed ? "1," : "0,") +
            csv_number(beam.frequency_Hz * 1e-6) + ',' + csv_number(beam.aperture.width_m / mm) + ',' +
            csv_number(times(beam.near_zone_m, 1.0 / mm)) + ',' + csv_number(times(beam.last_maximum_m, 1.0 / mm)) +
            ',' + csv_number(times(beam.far_half_angle_rad, degrees)) + ',' +
            csv_number(times(beam.theory_half_angle_rad, degrees)) + ',';
        for (std::size_t i = 0; i < beam.depth_m.size(); ++i) {
            // Units differ, so two-way has a column of its own.
            const std::string pressure = csv_number(beam.pressure[i]);
            csv += common + csv_number(beam.depth_m[i] / mm) + ',' +
                   (beam.path == BeamPath::two_way ? ',' + pressure : pressure + ',') + ',' +
                   csv_number(width_mm(beam, i)) + '\n';
        }
    }
    return csv;
}

std::string beam_json(std::span<const Beam> beams) {
    nlohmann::ordered_json all = {{"format", "echoloom beam"}, {"format_version", 1}, {"caution", caution_of(true)}};
    for (const Beam& beam : beams) {
        nlohmann::ordered_json one = {
            {"probe", beam.probe_name},
            {"scan", beam.scan_name},
            {"event_index", beam.event},
            {"path", path_name(beam.path)},
            {"receive", beam.receive.empty() ? nlohmann::ordered_json(nullptr) : nlohmann::ordered_json(beam.receive)},
            {"pulsed", beam.view.pulsed},
            {"unfocused", beam.view.unfocused},
            {"frequency_MHz", beam.frequency_Hz * 1e-6},
            {"aperture", is_disc(beam) ? "disc" : "strip"},
            {"aperture_mm", beam.aperture.width_m / mm},
            {"wavelength_mm", beam.field.wavelength_m() / mm},
            {"focus_mm", number(beam.focus_m > 0.0 ? std::optional(beam.focus_m / mm) : std::nullopt)},
            {"near_zone_theory_mm", number(times(beam.near_zone_m, 1.0 / mm))},
            {"last_axial_maximum_mm", number(times(beam.last_maximum_m, 1.0 / mm))},
            {"peak_pressure_depth_mm", beam.depth_m[beam.peak()] / mm},
            {"half_angle_deg", number(times(beam.far_half_angle_rad, degrees))},
            {"half_angle_theory_deg", number(times(beam.theory_half_angle_rad, degrees))},
            {"width_compared_at_mm", number(beam.focus_width_m ? std::optional(beam.compared_m / mm) : std::nullopt)},
            {"width_6dB_mm", number(times(beam.focus_width_m, 1.0 / mm))},
            {"width_6dB_theory_mm", number(times(beam.theory_focus_width_m, 1.0 / mm))}};
        if (beam.pattern) {
            one["pattern"] = pattern_json(beam);
        }
        for (std::size_t i = edge_stride - 1; i < beam.depth_m.size(); i += edge_stride) {
            one["depths"].push_back({{"depth_mm", beam.depth_m[i] / mm},
                                     {pressure_column(beam), beam.pressure[i]},
                                     {"width_6dB_mm", number(width_mm(beam, i))}});
        }
        all["beams"].push_back(one);
    }
    return all.dump(2) + '\n';
}

}  // namespace echoloom
