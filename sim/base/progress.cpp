#include "sim/base/progress.h"

#include <unistd.h>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <string_view>
#include <utility>

namespace echoloom {

namespace {

using namespace std::chrono_literals;
constexpr auto silent_start = 500ms;
constexpr auto redraw_interval = 100ms;
constexpr int bar_width = 30;

bool stderr_is_terminal() {
    const char* terminal = std::getenv("TERM");
    return isatty(STDERR_FILENO) == 1 && terminal != nullptr && std::string_view(terminal) != "dumb";
}

std::string time_left(double seconds) {
    const long whole = std::lround(std::ceil(seconds));
    if (whole < 100) {
        return std::to_string(whole) + " s left";
    }
    if (whole < 6000) {
        return std::to_string((whole + 30) / 60) + " min left";
    }
    return std::to_string((whole + 1800) / 3600) + " h left";
}

}  // namespace

Progress::Progress(std::string task, std::size_t total, bool quiet)
    : task_(std::move(task)),
      total_(std::max<std::size_t>(total, 1)),
      quiet_(quiet),
      terminal_(stderr_is_terminal()),
      start_(std::chrono::steady_clock::now()),
      last_draw_(start_) {}

Progress::~Progress() {
    if (drawn_ && terminal_) {
        std::fputs("\r\x1b[K", stderr);
    }
}

void Progress::advance(std::size_t steps) {
    done_ = std::min(done_ + steps, total_);
    if (quiet_) {
        return;
    }
    const auto now = std::chrono::steady_clock::now();
    if (now - start_ < silent_start) {
        return;
    }
    if (terminal_) {
        if (drawn_ && now - last_draw_ < redraw_interval) {
            return;
        }
    } else {
        const std::size_t tenth = done_ * 10 / total_;
        if (tenth == last_tenth_) {
            return;
        }
        last_tenth_ = tenth;
    }
    last_draw_ = now;
    draw();
}

void Progress::draw() {
    const double part = static_cast<double>(done_) / static_cast<double>(total_);
    const double spent = std::chrono::duration<double>(last_draw_ - start_).count();
    const std::string left = time_left(spent * (1.0 - part) / std::max(part, 1e-9));
    const int percent = static_cast<int>(std::floor(100.0 * part));
    if (terminal_) {
        const auto full = static_cast<std::size_t>(part * bar_width);
        const std::string bar = std::string(full, '=') + std::string(bar_width - full, '.');
        std::fprintf(stderr, "\r%s  %s  %d %%, %s\x1b[K", task_.c_str(), bar.c_str(), percent, left.c_str());
    } else if (done_ == total_) {
        std::fprintf(stderr, "%s: done in %.1f s\n", task_.c_str(), spent);
    } else {
        std::fprintf(stderr, "%s: %d %%, %s\n", task_.c_str(), percent, left.c_str());
    }
    std::fflush(stderr);
    drawn_ = true;
}

}  // namespace echoloom
