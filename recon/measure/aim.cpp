#include "recon/measure/aim.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include "recon/measure/grid_place.h"
#include "sim/base/error.h"
#include "sim/base/text.h"

namespace echoloom {
namespace {

std::string place_text(double x_m, double z_m) {
    return "x " + plain(1e3 * x_m) + " mm, depth " + plain(1e3 * z_m) + " mm";
}

/// The rectangle that holds the whole image.
PlaneBox extent_of(const Image& image) {
    PlaneBox box{std::numeric_limits<double>::infinity(), -std::numeric_limits<double>::infinity(),
                 std::numeric_limits<double>::infinity(), -std::numeric_limits<double>::infinity()};
    const auto& depths = depths_of(image.grid);
    for (std::size_t c = 0; c < image.columns; ++c) {
        const Column line = column_at(image.grid, static_cast<double>(c));
        for (const double depth : {depths.front(), depths.back()}) {
            const Vec3 place = line.origin_m + depth * line.direction;
            box.from_x_m = std::min(box.from_x_m, place.x());
            box.to_x_m = std::max(box.to_x_m, place.x());
            box.from_z_m = std::min(box.from_z_m, place.z());
            box.to_z_m = std::max(box.to_z_m, place.z());
        }
    }
    return box;
}

TrueRegion region_of(const PlaneBox& box, const std::string& name) {
    TrueRegion region;
    region.name = name;
    region.center_m = {0.5 * (box.from_x_m + box.to_x_m), 0.0, 0.5 * (box.from_z_m + box.to_z_m)};
    region.half_size_m = {0.5 * (box.to_x_m - box.from_x_m), 1e-3, 0.5 * (box.to_z_m - box.from_z_m)};
    return region;
}

void check_inside(const Image& image, double x_m, double z_m, const Place& place) {
    if (index_of(image.grid, {x_m, 0.0, z_m})) return;
    const PlaneBox all = extent_of(image);
    throw InputError(place, place_text(x_m, z_m) + " lies outside the image; it reaches from x " +
                                plain(std::round(1e4 * all.from_x_m) / 10.0) + " to " +
                                plain(std::round(1e4 * all.to_x_m) / 10.0) + " mm and from " +
                                plain(std::round(1e4 * all.from_z_m) / 10.0) + " to " +
                                plain(std::round(1e4 * all.to_z_m) / 10.0) + " mm deep");
}

void aim_at_regions(Image& image, const Aim& aim, const Place& place) {
    std::vector<TrueRegion>& regions = image.recording.truth.regions;
    regions.clear();
    int number = 0;
    for (const PlaneBox& box : aim.speckle) {
        check_inside(image, 0.5 * (box.from_x_m + box.to_x_m), 0.5 * (box.from_z_m + box.to_z_m), place);
        regions.push_back(region_of(box, "box " + std::to_string(++number)));
    }
    number = 0;
    for (const GivenDisc& disc : aim.discs) {
        check_inside(image, disc.x_m, disc.z_m, place);
        TrueRegion region;
        region.name = "disc " + std::to_string(++number);
        region.shape = RegionShape::cylinder;
        region.center_m = {disc.x_m, 0.0, disc.z_m};
        region.half_size_m = {0.5 * disc.diameter_m, 1e-3, 0.5 * disc.diameter_m};
        region.contrast_dB = std::numeric_limits<double>::quiet_NaN();
        region.inclusion = true;
        regions.push_back(region);
    }
}

}  // namespace

AimedAt take_aim(Image& image, const Aim& aim, const Place& place) {
    AimedAt aimed;
    Truth& truth = image.recording.truth;
    const bool no_truth = truth.points.empty() && truth.regions.empty() && truth.sheets.empty();
    const bool regions_given = !aim.discs.empty() || !aim.speckle.empty();
    if (regions_given) {
        aim_at_regions(image, aim, place);
        aimed.regions_given = true;
        aimed.description = "regions: as given";
    }
    if (!aim.points.empty()) {
        truth.points.clear();
        for (const Vec3& point : aim.points) {
            check_inside(image, point.x(), point.z(), place);
            truth.points.push_back({point, 0.0, 0.0});
        }
        aimed.points = PointSource::given;
        aimed.description = "points: as given" + std::string(aimed.description.empty() ? "" : "; ") + aimed.description;
    } else if (aim.box || (no_truth && !regions_given)) {
        const std::vector<Vec3> bright = find_bright_points(image, aim.box.value_or(PlaneBox{}));
        if (bright.empty() && !regions_given) {
            throw InputError(place,
                             std::string(aim.box ? "no bright point stands out in the box"
                                                 : "its recording contains no targets, and no bright point "
                                                   "stands out") +
                                 "; give a position (--point X,DEPTH), a disc (--disc X,DEPTH,DIAMETER) or a box of "
                                 "speckle (--speckle X1,X2,DEPTH1,DEPTH2), all in mm");
        }
        truth.points.clear();
        for (const Vec3& point : bright) truth.points.push_back({point, 0.0, 0.0});
        aimed.points = PointSource::detected;
        aimed.description = "points: bright ones detected in the " +
                            std::string(aim.box ? "given box" : "image; its recording contains none") +
                            "; their true positions are not known" + (aimed.description.empty() ? "" : "; ") +
                            aimed.description;
    }
    return aimed;
}

}  // namespace echoloom
