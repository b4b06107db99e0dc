#pragma once
/// A dataset of somebody else's file, opened only once its links, storage, filters and extents are known to be safe.

#include "sim/recording/hdf5_handle.h"

namespace echoloom {

struct Hdf5Dataset {
    Hdf5Handle handle;
    Hdf5Handle type;  ///< as stored
    Hdf5Handle space;
    Shape shape;  ///< empty for a true scalar
    std::size_t count = 0;
};

/// True where every part of the path is a plain link inside this file and something is there.
bool hdf5_link_exists(const Hdf5Context& context, Hdf5Id file, const std::string& path);

/// `file_bytes` bounds what may be read: data that would be larger than the file can hold is refused.
Hdf5Dataset open_hdf5_dataset(const Hdf5Context& context, Hdf5Id file, const std::string& path, std::size_t file_bytes);

/// The same with room in HDF5's cache for the chunks that one slab of the first dimension touches, so that none is
/// read twice.
Hdf5Handle reopen_for_slabs(const Hdf5Context& context, Hdf5Id file, const std::string& path,
                            const Hdf5Dataset& dataset);

}  // namespace echoloom
