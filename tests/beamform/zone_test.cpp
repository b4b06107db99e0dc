/// Several foci on one line: one line out of them, whose speckle shows no seam.

#include <gtest/gtest.h>
#include <omp.h>

#include <cmath>

#include "recon/beamform/beamform.h"
#include "recon/image/envelope.h"
#include "tests/beamform/synthetic.h"

namespace echoloom {
namespace {

using namespace echoloom::testing;

constexpr double pitch = 0.3e-3;
constexpr double depth_step = 1.5e-3;

/// One line in the middle of 32 elements, focused at each depth in turn.
Synthetic one_line(const std::vector<double>& foci_m, std::size_t samples) {
    std::vector<FocusedLine> lines;
    for (const double focus : foci_m) {
        // F/1.5 where the aperture does not run out: beams that differ much away from their foci.
        lines.push_back({Vec3::Zero(), Vec3::UnitZ(), focus, std::min(focus / 3.0, 4.6e-3)});
    }
    Synthetic recording = focused_recording(flat_probe(32, pitch, 5e6, 0.6), lines, samples);
    for (TransmitEvent& event : recording.info.events) {
        event.line = 0;
    }
    return recording;
}

/// Mean power of speckle at depths from 10.5 mm on, in dB: that of single scatterers, summed over places across the
/// line, is what a cloud of them of random sign has in the mean.
std::vector<double> speckle_dB(const std::vector<double>& foci_m, const Recipe& recipe, bool foci_known) {
    constexpr int depths = 18;
    std::vector<double> power(depths, 0.0);
    for (int i = 0; i <= 24; ++i) {
        Synthetic recording = one_line(foci_m, 2200);
        for (int d = 0; d < depths; ++d) {
            add_focused_echo(recording, Vec3(i * 0.12e-3, 0.0, 10.5e-3 + d * depth_step));
        }
        for (TransmitEvent& event : recording.info.events) {
            if (!foci_known) {
                event.focus_m = Vec3::Constant(std::numeric_limits<double>::quiet_NaN());
            }
        }
        const Beamformed line = beamform(recording.info, recording.reader(), recipe);
        const auto envelope = line_envelope(line.real, 1, line.depths);
        const auto& depth_m = std::get<LineGrid>(line.grid).depth_m;
        for (std::size_t n = 0; n < line.depths; ++n) {
            const auto nearest = std::lround((depth_m[n] - 10.5e-3) / depth_step);
            if (nearest >= 0 && nearest < depths) {
                const double both_sides = i == 0 ? 1.0 : 2.0;
                power[static_cast<std::size_t>(nearest)] +=
                    both_sides * static_cast<double>(envelope[n]) * static_cast<double>(envelope[n]);
            }
        }
    }
    for (double& value : power) {
        value = 10.0 * std::log10(value);
    }
    return power;
}

/// Greatest departure, between the first and the last focus, from a power law in depth through the values there.
double max_departure_dB(const std::vector<double>& level_dB, std::size_t first, std::size_t last) {
    const auto log_depth = [](std::size_t d) { return std::log(10.5e-3 + static_cast<double>(d) * depth_step); };
    double greatest = 0.0;
    for (std::size_t d = first; d <= last; ++d) {
        const double way = (log_depth(d) - log_depth(first)) / (log_depth(last) - log_depth(first));
        const double expected = std::lerp(level_dB[first], level_dB[last], way);
        greatest = std::max(greatest, std::abs(level_dB[d] - expected));
    }
    return greatest;
}

/// Common practice, no source: a seam under 0.5 dB on plain speckle's mean is not seen. Foci at 12 mm (index 1) and 33
/// mm (index 15).
TEST(Zones, SpeckleShowsNoSeamBetweenFoci) {
    Recipe recipe;
    recipe.aperture = ApertureMode::growing;
    recipe.f_number = 4.0;  // so that it never runs out: its own part in the level is then a power law
    recipe.window.kind = WindowKind::hann;
    const std::vector<double> foci{12e-3, 33e-3};
    const double blended = max_departure_dB(speckle_dB(foci, recipe, true), 1, 15);
    const double averaged = max_departure_dB(speckle_dB(foci, recipe, false), 1, 15);
    const auto three_foci = speckle_dB({12e-3, 21e-3, 33e-3}, recipe, true);  // the middle one at index 7
    const double three = std::max(max_departure_dB(three_foci, 1, 7), max_departure_dB(three_foci, 7, 15));
    std::printf("speckle's mean level off a power law: blended %.2f dB, three foci %.2f dB, averaged %.2f dB\n",
                blended, three, averaged);
    EXPECT_LT(blended, 0.5);
    EXPECT_LT(three, 0.5);
    EXPECT_GT(averaged, 3.0 * blended);  // events averaged, as those of one focus are
}

TEST(Zones, EachFocusIsItsOwnEventAloneAndEventsOfOneFocusAreAveraged) {
    Synthetic recording = one_line({12e-3, 30e-3, 30e-3}, 2000);
    for (std::size_t e = 0; e < 3; ++e) {
        for (std::size_t i = 0; i < recording.samples[e].size(); ++i) {
            recording.samples[e][i] = static_cast<float>(noise(1000000 * e + i));
        }
    }
    const auto alone = [&](std::size_t e) {
        Synthetic one = recording;
        one.info.events = {recording.info.events[e]};
        one.samples = {recording.samples[e]};
        return beamform(one.info, one.reader(), Recipe{});
    };
    const Beamformed all = beamform(recording.info, recording.reader(), Recipe{});
    const std::vector<Beamformed> each{alone(0), alone(1), alone(2)};
    const auto& depth = std::get<LineGrid>(all.grid).depth_m;
    std::size_t mixed = 0;
    for (std::size_t d = 0; d < all.depths; ++d) {
        const float upper = each[0].real[d];
        const float lower = 0.5F * (each[1].real[d] + each[2].real[d]);
        if (depth[d] <= 12e-3) {
            EXPECT_EQ(all.real[d], upper);
        } else if (depth[d] >= 30e-3) {
            EXPECT_NEAR(all.real[d], lower, 1e-6);
        } else {
            mixed += std::abs(all.real[d] - upper) > 1e-6F && std::abs(all.real[d] - lower) > 1e-6F ? 1 : 0;
        }
    }
    EXPECT_GT(mixed, 100U);
}

TEST(Zones, TheSameBitsOnAnyNumberOfThreads) {
    Synthetic recording = one_line({12e-3, 20e-3, 30e-3}, 1800);
    for (std::size_t e = 0; e < 3; ++e) {
        for (std::size_t i = 0; i < recording.samples[e].size(); ++i) {
            recording.samples[e][i] = static_cast<float>(noise(1000000 * e + i));
        }
    }
    const int threads_before = omp_get_max_threads();
    std::vector<Beamformed> formed;
    for (const int threads : {1, 2, 3}) {
        omp_set_num_threads(threads);
        formed.push_back(beamform(recording.info, recording.reader(), Recipe{}));
    }
    omp_set_num_threads(threads_before);
    EXPECT_EQ(formed[0].real, formed[1].real);
    EXPECT_EQ(formed[0].real, formed[2].real);
}

}  // namespace
}  // namespace echoloom
