#include <cmath>
#include <numbers>
#include <numeric>

#include "sim/array/rotor.h"
#include "sim/array/scan_events.h"
#include "sim/array/transmit.h"
#include "sim/array/window_settings.h"
#include "sim/base/text.h"

namespace echoloom {

namespace {

constexpr double mm = 1e-3;
constexpr double degree = std::numbers::pi / 180.0;

double rounded(double value, double step) {
    return std::round(value / step) * step;
}

Rotor read_rotor(Settings& settings) {
    Rotor rotor;
    rotor.heads = static_cast<int>(settings.integer("heads", 1, 32));
    rotor.rotations_per_s = settings.number("rotation_rate_rpm", positive(100000.0)) / 60.0;
    rotor.window_half_angle_rad = settings.number("window_half_angle_deg", positive(80.0)) * degree;
    rotor.axis_to_face_m = settings.number("axis_to_face_mm", between(0.0, 200.0)) * mm;
    const double widest_deg = 180.0 / rotor.heads;
    if (rotor.window_half_angle_rad > widest_deg * degree * (1.0 + 1e-12)) {
        settings.fail("window_half_angle_deg",
                      "is " + plain(rotor.window_half_angle_rad / degree) + ": with " +
                          counted(static_cast<std::size_t>(rotor.heads), "head") +
                          " the next one would enter the window before this one has left it; give at most " +
                          plain(rounded(widest_deg, 0.01)) + ", or fewer heads");
    }
    return rotor;
}

int read_lines_per_sweep(Settings& settings, const Rotor& rotor, const Scan& scan) {
    const double trip_s = 2.0 * scan.max_depth_m / scan.sound_speed_m_s;
    const int most = lines_in_sweep(rotor, trip_s);
    const std::string because = "a round trip to " + plain(scan.max_depth_m / mm) + " mm takes " +
                                plain(rounded(trip_s * 1e6, 0.1)) + " us, and a head crosses the window in " +
                                plain(rounded(sweep_time_s(rotor) * 1e6, 0.1)) + " us";
    if (most < 1) {
        settings.fail("rotation_rate_rpm", because +
                                               ": no line is received to its end; lower rotation_rate_rpm, widen the "
                                               "window, or give a smaller depth_mm");
    }
    const auto lines =
        static_cast<int>(settings.integer_or("lines_per_sweep", std::min(most, max_lines), 1, 1LL << 31));
    if (lines > most) {
        settings.fail("lines_per_sweep", "is " + std::to_string(lines) + ", but " + because + "; give at most " +
                                             std::to_string(most) +
                                             ", lower rotation_rate_rpm, or give a smaller depth_mm");
    }
    if (lines > max_lines) {
        settings.fail("lines_per_sweep", "is " + std::to_string(lines) + "; give at most " + std::to_string(max_lines));
    }
    return lines;
}

}  // namespace

void add_swept_lines(Settings& settings, const Probe& probe, Scan& scan) {
    const Rotor rotor = read_rotor(settings);
    const int lines = read_lines_per_sweep(settings, rotor, scan);
    const bool standing = settings.flag_or("standing", false);
    scan.head = HeadMotion{rotor.axis_to_face_m, standing ? 0.0 : rotation_rate_rad_s(rotor)};

    SweptTransmit transmit;
    transmit.focus_m = settings.number("focus_depth_mm", positive(1000.0)) * mm;
    const auto rings = static_cast<long long>(probe.elements.size());
    transmit.rings = static_cast<int>(settings.integer_or("transmit_rings", rings, 1, rings));
    transmit.window = read_window(settings, "transmit_window", "transmit_window_parameter");
    for (int line = 0; line < lines; ++line) {
        const double angle = rotor.window_half_angle_rad * ((2.0 * line + 1.0) / lines - 1.0);
        scan.events.push_back(swept_event(probe, *scan.head, transmit, angle, scan.sound_speed_m_s));
        scan.events.back().line = line;
        scan.events.back().receivers.resize(probe.elements.size());
        std::iota(scan.events.back().receivers.begin(), scan.events.back().receivers.end(), 0);
    }
}

}  // namespace echoloom
