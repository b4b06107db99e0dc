// Prints windows for compare_windows.py, one a line: convention, name, parameter, count, weights.
#include <cstdio>
#include <vector>

#include "sim/array/window.h"

namespace {

void print(const char* convention, const echoloom::Window& window, const std::vector<double>& weights) {
    const std::string_view name = echoloom::window_name(window.kind);
    std::printf("%s %.*s %.17g %zu", convention, static_cast<int>(name.size()), name.data(), window.parameter,
                weights.size());
    for (const double weight : weights) {
        std::printf(" %.17g", weight);
    }
    std::printf("\n");
}

}  // namespace

int main() {
    using echoloom::Window;
    using enum echoloom::WindowKind;
    const std::vector<Window> windows = {
        {rectangular, 0},      {triangle, 0},         {cosine, 0},           {hann, 0},
        {hamming, 0},          {blackman, 0},         {tukey, 0.0},          {tukey, 0.25},
        {tukey, 1.0},          {gaussian, 2.5},       {gaussian, 3.5},       {kaiser, 0.0},
        {kaiser, 6.0},         {kaiser, 14.0},        {dolph_chebyshev, 30}, {dolph_chebyshev, 50},
        {dolph_chebyshev, 60}, {dolph_chebyshev, 80}, {dolph_chebyshev, 100}};
    for (const Window& window : windows) {
        for (const int count : {2, 3, 7, 32, 33, 64, 129, 192}) {
            print("symmetric", window, echoloom::window_symmetric(window, count));
            print("centers", window, echoloom::window_at_centers(window, count));
        }
    }
}
