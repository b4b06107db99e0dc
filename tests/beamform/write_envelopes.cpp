/// Writes lines of echoes and the envelopes formed from them, float32, for check_envelopes.py; prints "columns depths
/// transform_length".

#include <cmath>
#include <fstream>
#include <iostream>

#include "recon/image/envelope.h"
#include "sim/base/random.h"

int main(int, char** arguments) {
    constexpr std::size_t columns = 5;
    constexpr std::size_t depths = 1777;
    std::vector<float> rf(columns * depths);
    // Noise through a resonance: broad-band, and cut off hard at both ends of a line.
    for (std::size_t column = 0; column < columns; ++column) {
        const echoloom::CounterRandom random(5, column);
        double one_ago = 0.0;
        double two_ago = 0.0;
        for (std::size_t i = 0; i < depths; ++i) {
            const double value = random.uniform(i) - 0.5 + 1.7 * std::cos(0.8) * one_ago - 0.7225 * two_ago;
            two_ago = one_ago;
            one_ago = value;
            rf[column * depths + i] = static_cast<float>(value);
        }
    }
    const std::vector<float> envelope = echoloom::line_envelope(rf, columns, depths);
    std::ofstream file(arguments[1], std::ios::binary);
    file.write(reinterpret_cast<const char*>(rf.data()), static_cast<std::streamsize>(rf.size() * sizeof(float)));
    file.write(reinterpret_cast<const char*>(envelope.data()),
               static_cast<std::streamsize>(envelope.size() * sizeof(float)));
    std::cout << columns << ' ' << depths << ' ' << echoloom::envelope_transform_length(depths) << '\n';
}
