#include "sim/engine/product.h"

#include <gtest/gtest.h>
#include <hwy/targets.h>

#include "sim/base/random.h"

namespace echoloom {
namespace {

ResponseGrid random_responses(std::size_t bins, std::size_t scatterers, std::size_t padded, std::uint64_t seed) {
    ResponseGrid grid;
    grid.bins = bins;
    grid.scatterers = scatterers;
    grid.padded = padded;
    const CounterRandom random(seed, 0);
    std::uint64_t n = 0;
    const auto next = [&] { return static_cast<float>(random.uniform(n++) - 0.5); };
    grid.real.resize(bins * scatterers * padded);
    grid.imaginary.resize(grid.real.size());
    for (std::size_t i = 0; i < grid.real.size(); ++i) {
        grid.real[i] = next();
        grid.imaginary[i] = next();
    }
    for (std::size_t s = 0; s < scatterers; ++s) {
        grid.strength.push_back(next());
    }
    return grid;
}

StripSums strip(std::size_t first_row, std::size_t width) {
    StripSums out;
    out.first_row = first_row;
    out.first_column = first_row;
    out.width = width;
    out.last_column = first_row + width;
    return out;
}

/// Largest difference over pairs that are kept (right of the diagonal).
float largest_difference(const StripSums& a, const StripSums& b, std::size_t bins) {
    float largest = 0.0F;
    for (std::size_t k = 0; k < bins; ++k) {
        for (std::size_t r = 0; r < strip_rows; ++r) {
            for (std::size_t c = r; c < a.width; ++c) {
                const std::size_t at = a.at(k, r) + c;
                largest =
                    std::max({largest, std::abs(a.real[at] - b.real[at]), std::abs(a.imaginary[at] - b.imaginary[at])});
            }
        }
    }
    return largest;
}

std::vector<std::int64_t> targets() {
    return hwy::SupportedAndGeneratedTargets();
}

class EveryTarget : public testing::TestWithParam<std::int64_t> {
  public:
    void SetUp() override { hwy::SetSupportedTargetsForTest(GetParam()); }
    void TearDown() override { hwy::SetSupportedTargetsForTest(0); }
};

TEST_P(EveryTarget, ProductsEqualThePlainLoop) {
    for (const std::size_t scatterers : {1U, 3U, 64U}) {
        for (const std::size_t width : {16U, 48U, 80U}) {
            const ResponseGrid first = random_responses(3, scatterers, 96, scatterers);
            const ResponseGrid second = random_responses(3, scatterers, 96, scatterers + 100);
            StripSums fast = strip(16, width);
            StripSums plain = strip(16, width);
            accumulate_products(first, true, fast);
            accumulate_products(second, false, fast);
            accumulate_products_plain(first, true, plain);
            accumulate_products_plain(second, false, plain);
            EXPECT_LT(largest_difference(fast, plain, 3), 1e-5F) << scatterers << " " << width;
        }
    }
}

INSTANTIATE_TEST_SUITE_P(Product, EveryTarget, testing::ValuesIn(targets()),
                         [](const auto& instance) { return std::string(hwy::TargetName(instance.param)); });

TEST(Product, TargetsWithFusedMultiplyAddAgreeToTheBit) {
    const ResponseGrid grid = random_responses(4, 50, 96, 7);
    std::vector<StripSums> results;
    for (const std::int64_t target : targets()) {
        if ((target & (HWY_AVX2 | HWY_AVX3)) != 0) {
            hwy::SetSupportedTargetsForTest(target);
            results.push_back(strip(0, 96));
            accumulate_products(grid, true, results.back());
        }
    }
    hwy::SetSupportedTargetsForTest(0);
    if (results.size() < 2) {
        GTEST_SKIP() << "this machine has one such target";
    }
    EXPECT_EQ(largest_difference(results[0], results[1], 4), 0.0F);
}

}  // namespace
}  // namespace echoloom
