#include "phantoms/phantom.h"
#include "phantoms/places.h"
#include "phantoms/region_settings.h"
#include "phantoms/sheet_settings.h"
#include "phantoms/target_settings.h"
#include "sim/base/shipped.h"
#include "sim/base/text.h"

namespace echoloom {

namespace {

Medium read_medium(Settings settings) {
    Medium medium;
    medium.sound_speed_m_s = settings.number("sound_speed_m_s", between(100.0, 10'000.0));
    medium.attenuation_dB_cm_MHz = settings.number_or("attenuation_dB_cm_MHz", 0.0, between(0.0, 100.0));
    medium.attenuation_exponent = settings.number_or("attenuation_exponent", 1.0, between(0.0, 2.0));
    medium.dispersive = settings.flag_or("dispersive", false);
    return medium;
}

}  // namespace

Phantom read_phantom(Settings settings) {
    Phantom phantom;
    phantom.source = settings.source_text();
    phantom.name = settings.text_or("name", settings.file().stem().string());
    phantom.seed = static_cast<std::uint64_t>(settings.integer_or("seed", 1, 0, 1LL << 53));
    phantom.medium = read_medium(settings.table("medium"));
    read_targets(settings, phantom);
    Names names;
    read_regions(settings, names, phantom);
    read_sheets(settings, names, phantom);
    settings.finish();
    const Place whole{settings.file().string(), 0, ""};
    if (phantom.targets.empty() && phantom.regions.empty() && phantom.sheets.empty()) {
        throw InputError(
            whole,
            "nothing scatters here; add a [[point]], [[wire]], [[wire_group]], [[speckle]], [[layer]] or [[sheet]]");
    }
    if (const auto count = static_cast<double>(phantom.candidate_count()); count > max_candidates) {
        throw InputError(whole, "holds " + plain(count) + " scatterers; lower densities or sizes, to at most " +
                                    plain(max_candidates));
    }
    return phantom;
}

Phantom load_phantom(const std::string& path_or_name, std::span<const Override> overrides) {
    return read_phantom(Settings::from_file(find_shipped(ShippedKind::phantom, path_or_name), overrides));
}

}  // namespace echoloom
