#pragma once
/// Counter-based random numbers: value i of a seed depends on (seed, stream, i) alone, so any block size, thread count
/// or order of evaluation gives the same numbers, on every machine (integer arithmetic and one exact scaling).
///
/// Source: the SplitMix64 finaliser, G. L. Steele, D. Lea, C. H. Flood, "Fast splittable pseudorandom number
/// generators", OOPSLA 2014 (constants from memory).

#include <cmath>
#include <cstdint>
#include <numbers>

namespace echoloom {

constexpr std::uint64_t mix64(std::uint64_t z) {
    z += 0x9e3779b97f4a7c15ULL;
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9ULL;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebULL;
    return z ^ (z >> 31);
}

class CounterRandom {
  public:
    constexpr CounterRandom(std::uint64_t seed, std::uint64_t stream) : key_(mix64(seed ^ mix64(stream))) {}

    constexpr std::uint64_t bits(std::uint64_t index) const { return mix64(key_ ^ mix64(index)); }

    /// Uniform in [0, 1), 53 bits, exact.
    constexpr double uniform(std::uint64_t index) const { return static_cast<double>(bits(index) >> 11) * 0x1.0p-53; }

    /// Standard normal, from the uniform values 2 index and 2 index + 1 (G. E. P. Box & M. E. Muller, Ann. Math. Stat.
    /// 29, 610-611, 1958). Its last bits are those of the machine's log and cos.
    double normal(std::uint64_t index) const {
        const double radius = std::sqrt(-2.0 * std::log(1.0 - uniform(2 * index)));
        return radius * std::cos(2.0 * std::numbers::pi * uniform(2 * index + 1));
    }

  private:
    std::uint64_t key_;
};

}  // namespace echoloom
