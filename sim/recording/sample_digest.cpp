#include "sim/recording/sample_digest.h"

#include <span>
#include <vector>

#include "sim/base/background_digest.h"

namespace echoloom {

Sha256 digest_of(const Hdf5Slabs& samples) {
    std::vector<float> slab(samples.slab_size());
    BackgroundDigest digest;
    for (std::size_t i = 0; i < samples.shape().front(); ++i) {
        samples.read(i, slab);
        digest.update(std::as_bytes(std::span(slab)));
    }
    return digest.finish();
}

}  // namespace echoloom
