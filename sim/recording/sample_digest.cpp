#include "sim/recording/sample_digest.h"

#include <span>
#include <utility>
#include <vector>

#include "sim/base/side_by_side.h"

namespace echoloom {

Sha256 digest_of(const Hdf5Slabs& samples) {
    const std::size_t slabs = samples.shape().front();
    std::vector<float> here(samples.slab_size());
    std::vector<float> next(samples.slab_size());
    Sha256 digest;
    if (slabs > 0) {
        samples.read(0, here);
    }
    for (std::size_t slab = 0; slab < slabs; ++slab) {
        const auto read_on = [&] {
            if (slab + 1 < slabs) {
                samples.read(slab + 1, next);
            }
        };
        side_by_side(read_on, [&] { digest.update(std::as_bytes(std::span(here))); });
        std::swap(here, next);
    }
    return digest;
}

}  // namespace echoloom
