#pragma once
/// The digest of samples that lie in a file already.

#include "sim/base/digest.h"
#include "sim/recording/hdf5_slabs.h"

namespace echoloom {

/// Of all slabs in order; the next are read while one is taken in.
Sha256 digest_of(const Hdf5Slabs& samples);

}  // namespace echoloom
