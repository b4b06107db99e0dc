#pragma once
/// Images of points of known shape, and recordings of ideal arrays, for tests of measuring.

#include <cmath>
#include <functional>
#include <numbers>
#include <vector>

#include "recon/image/image.h"

namespace echoloom::synthetic {

/// Amplitude of a Gaussian at an offset, full width `width` at one half.
inline double gaussian(double offset, double width) {
    return std::exp2(-4.0 * offset * offset / (width * width));
}

/// sinc^2, the two-way beam of equal rectangular apertures; 0.885892941 of its scale wide at one half (recomputed by
/// tests/published/recompute_arrays.py).
inline double sinc_squared(double offset, double width) {
    const double angle = std::numbers::pi * offset * 0.885892941 / width;
    if (std::abs(angle) < 1e-12) return 1.0;
    return std::pow(std::sin(angle) / angle, 2);
}

/// An envelope evaluated at every (x, depth) of a Cartesian grid.
inline Image cartesian_image(double x_step, std::size_t columns, double depth_step, double first_depth,
                             std::size_t depths, const std::function<double(double, double)>& envelope) {
    Image image;
    CartesianGrid grid;
    for (std::size_t c = 0; c < columns; ++c) {
        grid.x_m.push_back((static_cast<double>(c) - 0.5 * static_cast<double>(columns - 1)) * x_step);
    }
    for (std::size_t d = 0; d < depths; ++d) grid.depth_m.push_back(first_depth + static_cast<double>(d) * depth_step);
    for (const double x : grid.x_m) {
        for (const double depth : grid.depth_m) image.envelope.push_back(static_cast<float>(envelope(x, depth)));
    }
    image.grid = grid;
    image.columns = columns;
    image.depths = depths;
    image.sound_speed_m_s = image.recording.medium.sound_speed_m_s;
    return image;
}

/// `count` elements `pitch` apart, centred on x = 0: a line probe with a Gaussian echo.
inline Probe line_probe(int count, double pitch, double width, double center_Hz, double bandwidth) {
    Probe probe;
    probe.name = "test array";
    probe.center_Hz = center_Hz;
    probe.bandwidth_fraction = bandwidth;
    probe.pulse = GaussianPulse{center_Hz, bandwidth};
    probe.pitch_m = pitch;
    for (int n = 0; n < count; ++n) {
        Element element;
        element.center_m.x() = (n - 0.5 * (count - 1)) * pitch;
        element.width_m = width;
        element.height_m = 5e-3;
        probe.elements.push_back(element);
    }
    return probe;
}

/// One event focused at `focus` on the line from `origin`, received by all elements.
inline TransmitEvent focused_event(const Probe& probe, const Vec3& origin, const Vec3& direction, double focus,
                                   double sound_speed, int line = 0) {
    TransmitEvent event;
    event.kind = TransmitKind::focused;
    event.origin_m = origin;
    event.direction = direction;
    event.focus_m = origin + focus * direction;
    event.line = line;
    for (std::size_t n = 0; n < probe.elements.size(); ++n) {
        const double distance = (event.focus_m - probe.elements[n].center_m).norm();
        event.delay_s.push_back((focus - distance) / sound_speed);
        event.weight.push_back(1.0);
        event.receivers.push_back(static_cast<int>(n));
    }
    return event;
}

}  // namespace echoloom::synthetic
