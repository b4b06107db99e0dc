#include "sim/engine/cell_view.h"

#include <Eigen/Geometry>
#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>

#include "sim/engine/face_factor.h"

namespace echoloom {

std::vector<Sight> sights_of(const ElementArrays& a, std::span<const Scatterer> cell) {
    const Vec3 elevation(a.elevation_x[0], a.elevation_y[0], a.elevation_z[0]);
    const Vec3 origin(a.center_x[0], a.center_y[0], a.center_z[0]);
    std::vector<Sight> out;
    for (const Scatterer& s : cell) {
        const Vec3 at(s.x_m, s.y_m, s.z_m);
        const double offset = std::abs((at - origin).dot(elevation));
        const double middle = middle_square(offset, a.half_height[0]);
        out.push_back({at, middle, std::pow(offset + a.half_height[0], 2) - middle});
    }
    return out;
}

double in_plane_square(const Vec3& offset, const Vec3& elevation) {
    const double y = offset.dot(elevation);
    return offset.squaredNorm() - y * y;
}

CellMiddle middle_of(std::span<const Sight> sights) {
    Box box{sights.front().at, sights.front().at};
    double least = sights.front().middle_square;
    double most = least;
    for (const Sight& sight : sights) {
        box.least = box.least.cwiseMin(sight.at);
        box.most = box.most.cwiseMax(sight.at);
        least = std::min(least, sight.middle_square);
        most = std::max(most, sight.middle_square);
    }
    return {(box.least + box.most) / 2.0, (least + most) / 2.0};
}

namespace {

/// Slopes of middle paths and what the face adds to them, evenly between both its ends, by energy. (The mean over a
/// face of amplitudes is at most that of their squares.)
void sort_slopes(std::span<const double> slope, std::span<const Scatterer> cell, CellView& view) {
    const double face = view.elevation + view.lateral;
    view.steepest = *std::max_element(slope.begin(), slope.end()) + face;
    double all = 0.0;
    for (std::size_t s = 0; s < cell.size(); ++s) {
        const double energy = std::max(cell[s].strength_m * cell[s].strength_m, 1e-300);
        for (const double part : {-0.75, -0.5, -0.25, 0.0, 0.25, 0.5, 0.75, 1.0}) {
            const double share = view.steepest > 0.0 ? std::abs(slope[s] + part * face) / view.steepest : 0.0;
            const auto index = static_cast<std::size_t>(share * CellView::classes);
            view.energy[std::min(CellView::classes - 1, index)] += energy / 8.0;
        }
        all += energy;
    }
    for (double& energy : view.energy) {
        energy /= all;
    }
}

}  // namespace

CellView view_cell(const RowCurve& curve, const ElementArrays& a, std::span<const Sight> sights,
                   std::span<const Scatterer> cell, const CellMiddle& middle) {
    constexpr std::size_t samples = 13;
    const double step = (curve.last - curve.first) / static_cast<double>(samples - 1);
    const double per_half_range = static_cast<double>(samples - 1) / 2.0;
    const Vec3 elevation(a.elevation_x[0], a.elevation_y[0], a.elevation_z[0]);
    std::array<Element, samples> face;
    std::array<Vec3, samples> lateral;
    std::array<double, samples> reference;
    for (std::size_t i = 0; i < samples; ++i) {
        face[i] = curve.face(curve.first + static_cast<double>(i) * step);
        lateral[i] = elevation.cross(face[i].normal);
        reference[i] = std::sqrt(in_plane_square(middle.at - face[i].center_m, elevation) + middle.square);
    }
    CellView view;
    std::vector<double> slope(sights.size());
    for (std::size_t s = 0; s < sights.size(); ++s) {
        const Sight& sight = sights[s];
        double before = 0.0;
        double inverse_before = 0.0;
        double sine_before = 0.0;
        for (std::size_t i = 0; i < samples; ++i) {
            const Vec3 offset = sight.at - face[i].center_m;
            const double path = std::sqrt(in_plane_square(offset, elevation) + sight.middle_square);
            const double difference = path - reference[i];
            const double inverse = 1.0 / path;
            const double sine = offset.dot(lateral[i]) * inverse;
            if (i > 0) {
                slope[s] = std::max(slope[s], std::abs(difference - before) * per_half_range);
                view.elevation = std::max(
                    view.elevation, std::abs(inverse - inverse_before) * per_half_range * sight.face_square / 2.0);
                view.lateral = std::max(view.lateral, std::abs(sine - sine_before) * per_half_range * a.half_width[0]);
            }
            view.mixed =
                std::max(view.mixed, std::abs(sine) * a.half_width[0] * sight.face_square / 2.0 * inverse * inverse);
            const double nearest = std::max(path * path - sight.face_square, 0.0);
            view.excess = std::max(view.excess,
                                   sight.face_square / (path + std::sqrt(nearest)) + std::abs(sine) * a.half_width[0]);
            before = difference;
            inverse_before = inverse;
            sine_before = sine;
        }
    }
    sort_slopes(slope, cell, view);
    return view;
}

ResponseLevel response_level(const EngineContext& context, const RowCurve& curve, std::span<const Sight> sights,
                             std::span<const Scatterer> cell) {
    constexpr std::size_t max_scatterers = 12;
    constexpr int heights = 48;
    const ElementArrays& a = context.elements;
    const double c = context.medium.sound_speed_m_s;
    const double wavenumber = 2.0 * std::numbers::pi * context.center_Hz / c;
    const Vec3 elevation(a.elevation_x[0], a.elevation_y[0], a.elevation_z[0]);
    const std::size_t stride = (sights.size() + max_scatterers - 1) / max_scatterers;
    ResponseLevel least;
    for (const double parameter : {curve.first, (curve.first + curve.last) / 2.0, curve.last}) {
        const Element face = curve.face(parameter);
        double squares = 0.0;
        double elevation_squares = 0.0;
        double count = 0.0;
        for (std::size_t s = 0; s < sights.size(); s += stride) {
            const Vec3 offset = Vec3(cell[s].x_m, cell[s].y_m, cell[s].z_m) - face.center_m;
            const double y = offset.dot(elevation);
            const double in_plane = in_plane_square(offset, elevation);
            std::complex<double> sum;
            for (int i = 0; i < heights; ++i) {
                const double height = a.half_height[0] * ((2.0 * i + 1.0) / heights - 1.0);
                const double path = std::sqrt(in_plane + (y - height) * (y - height));
                sum +=
                    std::polar(1.0 / heights, -wavenumber * (path + c * lens_delay_s(a.elevation_focus_m, height, c)));
            }
            const double path = std::sqrt(in_plane + sights[s].middle_square);
            const double sine = offset.dot(elevation.cross(face.normal)) / path;
            const double turn = wavenumber * a.half_width[0] * sine;
            double lateral = std::abs(turn) > 1e-6 ? std::abs(std::sin(turn) / turn) : 1.0;
            lateral *= a.soft ? std::abs(offset.dot(face.normal)) / path : 1.0;
            squares += std::norm(sum) * std::pow(std::max(lateral, 0.25), 2);
            elevation_squares += std::norm(sum);
            count += 1.0;
        }
        least.whole = std::min(least.whole, std::max(std::sqrt(squares / count), 0.02));
        least.elevation = std::min(least.elevation, std::max(std::sqrt(elevation_squares / count), 0.02));
    }
    return least;
}

}  // namespace echoloom
