#pragma once
/// A float32 dataset taken one slab of its first dimension at a time.

#include <span>

#include "sim/recording/hdf5_handle.h"

namespace echoloom {

class Hdf5Slabs {
  public:
    /// `path` names the dataset in errors.
    Hdf5Slabs(Hdf5Context context, std::string path, Hdf5Handle dataset, Shape shape);

    const Shape& shape() const { return shape_; }
    std::size_t slab_size() const;  ///< values in one slab
    void read(std::size_t index, std::span<float> values) const;
    void write(std::size_t index, std::span<const float> values);
    /// Only now is what was written known to have left HDF5's hands.
    void close();

  private:
    void select(std::size_t index, std::size_t size) const;

    Hdf5Context context_;
    std::string path_;
    Hdf5Handle dataset_;
    Shape shape_;
    Hdf5Handle file_space_;
    Hdf5Handle memory_space_;
};

}  // namespace echoloom
