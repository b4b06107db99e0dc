// Preloaded by tests: hides instruction sets from the dispatch of kernels, so that a machine that has them runs the
// program as one that has not. ECHOLOOM_TEST_TARGETS is "avx2" (nothing better) or "baseline". Only kernels are
// limited: the C library and FFTW choose for themselves.

#include <hwy/targets.h>

#include <cstdio>
#include <cstdlib>
#include <string_view>

namespace {

/// Bits of better targets are lower.
[[gnu::constructor]] void limit() {
    const char* const wanted = std::getenv("ECHOLOOM_TEST_TARGETS");
    const std::string_view word = wanted == nullptr ? "" : wanted;
    if (word == "avx2") {
        hwy::DisableTargets(HWY_AVX2 - 1);
    } else if (word == "baseline") {
        hwy::DisableTargets(HWY_STATIC_TARGET - 1);
    } else {
        std::fputs("limit_targets: ECHOLOOM_TEST_TARGETS is neither avx2 nor baseline\n", stderr);
        std::abort();
    }
}

}  // namespace
