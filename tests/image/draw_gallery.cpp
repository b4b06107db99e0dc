// Draws pictures of made-up speckle for people to look at: draw_gallery FOLDER
#include <cmath>
#include <filesystem>
#include <string>
#include <vector>

#include "recon/image/panels.h"
#include "recon/image/picture.h"
#include "tests/image/synthetic.h"

namespace {

using namespace echoloom;
using synthetic::Cyst;

constexpr double mm = 1e-3;

/// What a recording and a recipe would have said.
Image dressed(Image image, std::string title) {
    image.recipe.name = "gallery";
    image.recipe.title = std::move(title);
    image.recording.probe.name = "linear-5";
    image.recording.probe.center_Hz = 5e6;
    image.recording.probe.elements.resize(192);
    image.recording.source.phantom = "invented";
    image.recording.events.resize(image.columns);
    for (TransmitEvent& event : image.recording.events) {
        event.focus_m = {0.0, 0.0, 60.0 * mm};
    }
    image.sound_speed_m_s = 1540.0;
    return image;
}

const std::vector<Cyst>& cysts() {
    static const std::vector<Cyst> all{{5.0 * mm, 20.0 * mm, 3.0 * mm, -60.0}, {5.0 * mm, 40.0 * mm, 4.0 * mm, -60.0},
                                       {5.0 * mm, 62.0 * mm, 5.0 * mm, -60.0}, {20.0 * mm, 20.0 * mm, 3.0 * mm, 6.0},
                                       {20.0 * mm, 40.0 * mm, 4.0 * mm, -6.0}, {20.0 * mm, 62.0 * mm, 5.0 * mm, -12.0}};
    return all;
}

Truth truth() {
    Truth truth;
    for (const Cyst& cyst : cysts()) {
        TrueRegion region;
        region.shape = RegionShape::cylinder;
        region.center_m = {cyst.x_m, 0.0, cyst.z_m};
        region.half_size_m = {cyst.radius_m, 1.0, cyst.radius_m};
        truth.regions.push_back(region);
    }
    return truth;
}

std::vector<Image> four_images() {
    const LineGrid grid = synthetic::parallel_lines(192, 60.0 * mm, 82.0 * mm, 0.02 * mm);
    std::vector<Image> images;
    images.push_back(dressed(synthetic::speckle(grid, cysts(), 0.03, 7), "Receive focus fixed at 40 mm"));
    images.push_back(dressed(synthetic::speckle(grid, cysts(), 0.012, 7), "Dynamic receive focus"));
    images.push_back(dressed(synthetic::speckle(grid, cysts(), 0.0, 7), "Dynamic focus, aperture growing at F/2"));
    images.push_back(
        dressed(synthetic::speckle(grid, cysts(), 0.002, 7), "Dynamic focus, growing aperture, Hann apodization"));
    return images;
}

LineGrid fan() {
    LineGrid grid = synthetic::parallel_lines(160, 1.0 * mm, 60.0 * mm, 0.02 * mm);
    for (std::size_t i = 0; i < grid.origin_m.size(); ++i) {
        const double angle = (static_cast<double>(i) / 159.0 - 0.5) * 1.2;
        grid.direction[i] = {std::sin(angle), 0.0, std::cos(angle)};
        grid.origin_m[i] = 40.0 * mm * (grid.direction[i] - Vec3::UnitZ());
    }
    return grid;
}

/// Lines of one point, or of an arc, over an angle to both sides.
LineGrid sector(double radius_mm, double half_rad, double max_depth_mm) {
    LineGrid grid = synthetic::parallel_lines(161, 1.0 * mm, max_depth_mm * mm, 0.03 * mm);
    for (std::size_t i = 0; i < grid.origin_m.size(); ++i) {
        const double angle = half_rad * (static_cast<double>(i) / 80.0 - 1.0);
        grid.direction[i] = {std::sin(angle), 0.0, std::cos(angle)};
        grid.origin_m[i] = radius_mm * mm * (grid.direction[i] - Vec3::UnitZ());
    }
    return grid;
}

/// A single bright point on a field of grey.
Image point_in(const LineGrid& grid, double x_mm, double z_mm) {
    return synthetic::image_of(grid, [=](double x, double z) {
        return 0.03 + synthetic::spot(x - x_mm * mm, z - z_mm * mm, 1.5 * mm, 0.5 * mm);
    });
}

}  // namespace

int main(int count, char** arguments) {
    if (count != 2) {
        return 2;
    }
    const std::filesystem::path folder = arguments[1];
    std::vector<Image> images = four_images();
    draw_picture(images[0], folder / "picture.png");
    draw_panels(images, folder / "sheet_of_four.png");
    images.push_back(images[1]);
    images.push_back(images[2]);
    draw_panels(images, folder / "sheet_of_six.png", {.heading = "Six ways to weigh one recording"});
    images[1].recording.truth = truth();
    draw_picture(images[1], folder / "picture_with_truth.png", {.mark_truth = true});
    const LineGrid steered = synthetic::parallel_lines(128, 40.0 * mm, 60.0 * mm, 0.02 * mm, 0.35);
    const std::vector<Cyst> one{{5.0 * mm, 30.0 * mm, 4.0 * mm, -60.0}};
    draw_picture(dressed(synthetic::speckle(steered, one, 0.0, 3), "Lines steered by 20 degrees"),
                 folder / "steered.png");
    draw_picture(dressed(synthetic::speckle(fan(), one, 0.0, 3), "Lines spread like a fan"), folder / "fan.png");
    const Image half_turn = dressed(point_in(sector(0.0, 1.396, 60.0), 30.0, 20.0), "160 degrees from one point");
    const Image quarter = dressed(point_in(sector(0.0, 0.785, 100.0), 30.0, 60.0), "90 degrees from one point");
    const Image arc = dressed(point_in(sector(60.0, 0.5, 100.0), 30.0, 60.0), "Along the radii of a curved array");
    const Image flat = dressed(point_in(synthetic::parallel_lines(128, 38.0 * mm, 100.0 * mm, 0.03 * mm), 10.0, 60.0),
                               "Straight down");
    draw_picture(half_turn, folder / "sector_160.png");
    draw_picture(arc, folder / "curved.png");
    const std::vector<Image> geometries{flat, arc, quarter};
    draw_panels(geometries, folder / "sheet_of_geometries.png", {.titles = {"Flat", "Curved", "Phased"}});
}
