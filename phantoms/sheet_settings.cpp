#include "phantoms/sheet_settings.h"

#include <numbers>

#include "sim/base/text.h"

namespace echoloom {

namespace {

constexpr double degree = std::numbers::pi / 180.0;
constexpr double steepest_tilt_deg = 85.0;

// Apart from those of regions: a sheet added or left out moves no scatterer of them.
constexpr std::uint64_t sheet_streams = 0x3'0000'0000ULL;

Sheet read_sheet(Settings& settings, std::uint64_t number, Names& names) {
    Sheet sheet;
    sheet.name = names.read(settings, "sheet " + std::to_string(number));
    sheet.stream = sheet_streams + number;
    sheet.center_m = read_position_m(settings, "center_mm");
    const std::vector<double> size_mm = settings.numbers("size_mm", positive(2.0 * farthest_mm), 2);
    sheet.half_width_m = 0.5 * size_mm[0] * mm;
    sheet.half_length_m = 0.5 * size_mm[1] * mm;
    sheet.tilt_rad = settings.number_or("tilt_deg", 45.0, between(-steepest_tilt_deg, steepest_tilt_deg)) * degree;
    refuse_above_face(settings, "center_mm", sheet.box().least.z());
    sheet.density_per_mm2 = settings.number("density_per_mm2", positive(1e6));
    sheet.strength_m = read_strength_m(settings, 0.0);
    const double candidates = sheet.density_per_mm2 * size_mm[0] * size_mm[1];
    if (candidates > max_candidates) {
        settings.fail("density_per_mm2", "fills this sheet with " + plain(candidates) +
                                             " scatterers; lower it, or shrink the sheet, to at most " +
                                             plain(max_candidates));
    }
    if (sheet.candidate_count() == 0) {
        settings.fail("density_per_mm2", "puts no scatterer on this sheet; raise it, or enlarge the sheet");
    }
    return sheet;
}

}  // namespace

void read_sheets(Settings& settings, Names& names, Phantom& phantom) {
    std::uint64_t number = 0;
    for (Settings& entry : settings.tables("sheet")) {
        const Sheet sheet = read_sheet(entry, ++number, names);
        phantom.truth.sheets.push_back(
            {sheet.name, sheet.center_m, sheet.half_width_m, sheet.half_length_m, sheet.tilt_rad});
        phantom.sheets.push_back(sheet);
    }
}

}  // namespace echoloom
