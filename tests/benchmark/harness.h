#pragma once
/// Timing in turns: works that are compared run one after the other, round by round, so that what slows the machine
/// for a while slows all of them.

#include <functional>
#include <span>
#include <vector>

namespace echoloom::benchmark {

/// Of a few repetitions.
struct Spread {
    double median = 0.0;
    double least = 0.0;
    double most = 0.0;
};

Spread spread(std::vector<double> values);
/// The spread of a product or quotient with a constant, as of a rate: `amount` over seconds.
Spread rate(double amount, const Spread& seconds);

double seconds_of(const std::function<void()>& work);

/// Does its work once and says how many seconds that took; what it had to prepare is not in them.
using Work = std::function<double()>;

/// [work][round] seconds; a first round warms caches and is not counted where `warm_up`.
std::vector<std::vector<double>> in_turns(std::span<const Work> works, int rounds, bool warm_up);

/// One work alone.
Spread repeat(const std::function<void()>& work, int rounds, bool warm_up = true);

/// Of first over second, round by round.
Spread ratio(std::span<const double> first, std::span<const double> second);

}  // namespace echoloom::benchmark
