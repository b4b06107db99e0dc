#include "tests/benchmark/harness.h"

#include <algorithm>
#include <chrono>

namespace echoloom::benchmark {

Spread spread(std::vector<double> values) {
    std::ranges::sort(values);
    const std::size_t middle = values.size() / 2;
    const double median = values.size() % 2 == 1 ? values[middle] : 0.5 * (values[middle - 1] + values[middle]);
    return {median, values.front(), values.back()};
}

Spread rate(double amount, const Spread& seconds) {
    return {amount / seconds.median, amount / seconds.most, amount / seconds.least};
}

double seconds_of(const std::function<void()>& work) {
    const auto start = std::chrono::steady_clock::now();
    work();
    return std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
}

std::vector<std::vector<double>> in_turns(std::span<const Work> works, int rounds, bool warm_up) {
    std::vector<std::vector<double>> seconds(works.size());
    for (int round = warm_up ? -1 : 0; round < rounds; ++round) {
        for (std::size_t i = 0; i < works.size(); ++i) {
            const double taken = works[i]();
            if (round >= 0) {
                seconds[i].push_back(taken);
            }
        }
    }
    return seconds;
}

Spread repeat(const std::function<void()>& work, int rounds, bool warm_up) {
    const std::vector<Work> works{[&] { return seconds_of(work); }};
    return spread(in_turns(works, rounds, warm_up).front());
}

Spread ratio(std::span<const double> first, std::span<const double> second) {
    std::vector<double> ratios;
    for (std::size_t i = 0; i < std::min(first.size(), second.size()); ++i) {
        ratios.push_back(first[i] / second[i]);
    }
    return spread(std::move(ratios));
}

}  // namespace echoloom::benchmark
