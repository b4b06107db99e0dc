#include "recon/compare/difference_picture.h"

#include <algorithm>
#include <array>
#include <cmath>

#include "recon/image/axis.h"
#include "recon/image/compose.h"
#include "recon/image/description.h"
#include "recon/image/envelope.h"
#include "recon/image/png.h"
#include "sim/base/error.h"

namespace echoloom {

namespace {

/// From the largest difference down to the smallest that is drawn.
constexpr double difference_range_dB = 40.0;

/// From lower to higher: lightness rises all the way, and blue and yellow are distinct with any kind of colour vision.
/// (Common practice, no source.)
constexpr Colour lower = {8, 48, 130};
constexpr Colour ground = {128, 128, 128};
constexpr Colour higher = {255, 226, 60};

Colour mixed(Colour from, Colour to, double share) {
    const auto channel = [&](std::uint8_t a, std::uint8_t b) {
        return static_cast<std::uint8_t>(std::lround(a + share * (static_cast<double>(b) - a)));
    };
    return {channel(from.red, to.red), channel(from.green, to.green), channel(from.blue, to.blue)};
}

/// -1 for the largest decrease to 1 for the largest increase.
Colour difference_colour(double place) {
    return mixed(ground, place < 0.0 ? lower : higher, std::min(1.0, std::abs(place)));
}

double place_on_scale(double difference, double largest) {
    if (difference == 0.0 || !(largest > 0.0)) {
        return 0.0;
    }
    const double below_dB = -20.0 * std::log10(std::abs(difference) / largest);
    return std::copysign(std::max(0.0, 1.0 - below_dB / difference_range_dB), difference);
}

/// Increases and decreases are scan-converted separately, as amplitudes are, and their difference is drawn: no kernel
/// rings over a change of sign.
Raster difference_raster(const Image& before, const Image& after, double pixels_per_m) {
    std::vector<float> increases(before.envelope.size()), decreases(before.envelope.size());
    for (std::size_t n = 0; n < increases.size(); ++n) {
        const float change = after.envelope[n] - before.envelope[n];
        increases[n] = std::max(0.0F, change);
        decreases[n] = std::max(0.0F, -change);
    }
    Raster raster = scan_convert(before.grid, increases, pixels_per_m);
    const Raster decrease = scan_convert(before.grid, decreases, pixels_per_m);
    for (std::size_t n = 0; n < raster.values.size(); ++n) {
        raster.values[n] -= decrease.values[n];
    }
    return raster;
}

double largest_difference(const Image& before, const Image& after) {
    double largest = 0.0;
    for (std::size_t n = 0; n < before.envelope.size(); ++n) {
        largest = std::max(largest, std::abs(static_cast<double>(after.envelope[n]) - before.envelope[n]));
    }
    return largest;
}

std::string level_text(double level_dB) {
    return tick_label(level_dB, 1.0);
}

/// The largest difference's level at both ends, the smallest drawn in the middle.
ScaleBar difference_bar(double largest_dB) {
    ScaleBar bar{"dB against that peak: dark where lower, light where higher", {}};
    if (!std::isfinite(largest_dB)) {
        bar.labels = {{0.0, ""}, {0.5, "none"}, {1.0, ""}};
        return bar;
    }
    const std::string ends = level_text(largest_dB);
    const std::string halves = level_text(largest_dB - 0.5 * difference_range_dB);
    bar.labels = {{0.0, ends},
                  {0.25, halves},
                  {0.5, "< " + level_text(largest_dB - difference_range_dB)},
                  {0.75, halves},
                  {1.0, ends}};
    return bar;
}

void draw_second_bar(Canvas& canvas, const Rect& bar) {
    for (int column = 0; column < bar.width; ++column) {
        canvas.fill({bar.x + column, bar.y, 1, bar.height}, difference_colour(2.0 * (column + 0.5) / bar.width - 1.0));
    }
}

void draw_difference_panel(Canvas& canvas, const Rect& place, const Raster& raster, double largest) {
    for (int row = 0; row < std::min(place.height, raster.height); ++row) {
        for (int column = 0; column < std::min(place.width, raster.width); ++column) {
            const float value = raster.at(column, row);
            canvas.set(place.x + column, place.y + row,
                       std::isnan(value) ? outside_colour : difference_colour(place_on_scale(value, largest)));
        }
    }
}

/// One event as an image whose columns are its channels, a pitch apart.
Image channel_image(RecordingReader& recording, std::size_t event) {
    const RecordingInfo& info = recording.info();
    Image image;
    image.recording = info;
    image.recording.truth = {};
    image.columns = info.channels;
    image.depths = info.samples;
    CartesianGrid grid;
    const double pitch = info.probe.pitch_m > 0.0 ? info.probe.pitch_m : 0.5 * info.probe.wavelength_m(1540.0);
    for (std::size_t channel = 0; channel < info.channels; ++channel) {
        grid.x_m.push_back((static_cast<double>(channel) - 0.5 * static_cast<double>(info.channels - 1)) * pitch);
    }
    for (std::size_t sample = 0; sample < info.samples; ++sample) {
        const double time_s = info.events[event].start_time_s + static_cast<double>(sample) / info.sampling_rate_Hz;
        grid.depth_m.push_back(0.5 * info.medium.sound_speed_m_s * time_s);
    }
    image.grid = grid;
    std::vector<float> samples(info.channels * info.samples);
    recording.read_event(event, samples);
    image.envelope = line_envelope(samples, info.channels, info.samples);
    return image;
}

}  // namespace

void draw_difference(const Image& before, const Image& after, const std::string& caption,
                     const std::filesystem::path& png) {
    if (before.envelope.size() != after.envelope.size() || before.columns != after.columns) {
        throw InputError("images of different grids have no picture of their difference");
    }
    const std::array images{before, after, before};
    const std::vector<Extent> extents = panel_extents(images);
    const double peak = peak_amplitude(before.envelope);
    const double largest = largest_difference(before, after);
    const std::array titles{"Before", "After", "Difference"};
    PageContent content;
    for (std::size_t n = 0; n < images.size(); ++n) {
        content.panels.push_back(
            {extents[n], titles[n], std::string(1, static_cast<char>('A' + n)), fan_edge(before.grid)});
    }
    content.caption = caption;
    content.caution = caution(is_simulated(before) && is_simulated(after));
    content.scale = grey_scale_of(before.recipe);
    content.scale_name = "dB relative to the peak before";
    content.second_bar = difference_bar(20.0 * std::log10(largest / peak));

    const Fonts fonts = load_fonts();
    const PageLayout layout = lay_out(content, {}, fonts);
    Canvas canvas = draw_page(layout, content.scale, fonts);
    draw_second_bar(canvas, layout.second_bar);
    for (std::size_t n = 0; n < 2; ++n) {
        const Raster raster = scan_convert(images[n].grid, images[n].envelope, layout.pixels_per_m);
        draw_panel(canvas, layout.images[n], fitted(raster, layout.extents[n]), content.scale, peak);
    }
    draw_difference_panel(canvas, layout.images[2],
                          fitted(difference_raster(before, after, layout.pixels_per_m), layout.extents[2]), largest);
    draw_angle_scales(canvas, layout, fonts);
    write_png(png, canvas);
}

void draw_difference(RecordingReader& before, RecordingReader& after, std::size_t event, const std::string& caption,
                     const std::filesystem::path& png) {
    draw_difference(channel_image(before, event), channel_image(after, event), caption, png);
}

}  // namespace echoloom
