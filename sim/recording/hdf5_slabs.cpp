#include "sim/recording/hdf5_slabs.h"

#include <hdf5.h>

#include <functional>
#include <numeric>
#include <utility>

namespace echoloom {

Hdf5Slabs::Hdf5Slabs(Hdf5Context context, std::string path, Hdf5Handle dataset, Shape shape)
    : context_(std::move(context)), path_(std::move(path)), dataset_(std::move(dataset)), shape_(std::move(shape)) {
    file_space_ = context_.own(H5Dget_space(dataset_.id()), H5Sclose, path_, "cannot read its shape");
    // Of the same rank as in the file: between ranks HDF5 copies value by value.
    std::vector<hsize_t> slab(shape_.begin(), shape_.end());
    slab.front() = 1;
    memory_space_ = context_.own(H5Screate_simple(static_cast<int>(slab.size()), slab.data(), nullptr), H5Sclose, path_,
                                 "cannot describe one slab");
}

std::size_t Hdf5Slabs::slab_size() const {
    return std::accumulate(shape_.begin() + 1, shape_.end(), std::size_t{1}, std::multiplies<>());
}

void Hdf5Slabs::read(std::size_t index, std::span<float> values) const {
    select(index, values.size());
    context_.check(
        H5Dread(dataset_.id(), H5T_NATIVE_FLOAT, memory_space_.id(), file_space_.id(), H5P_DEFAULT, values.data()),
        path_, "cannot read entry " + std::to_string(index) + ": the file is damaged");
}

void Hdf5Slabs::write(std::size_t index, std::span<const float> values) {
    select(index, values.size());
    context_.check(
        H5Dwrite(dataset_.id(), H5T_NATIVE_FLOAT, memory_space_.id(), file_space_.id(), H5P_DEFAULT, values.data()),
        path_, "cannot write");
}

void Hdf5Slabs::close() {
    if (!dataset_.close()) {
        context_.refuse(path_, "cannot write");
    }
}

void Hdf5Slabs::select(std::size_t index, std::size_t size) const {
    if (index >= shape_.front() || size != slab_size()) {
        context_.fail(path_, "asked for entry " + std::to_string(index) + " with " + std::to_string(size) +
                                 " values; there are " + std::to_string(shape_.front()) + " entries of " +
                                 std::to_string(slab_size()));
    }
    std::vector<hsize_t> start(shape_.size(), 0);
    std::vector<hsize_t> count(shape_.begin(), shape_.end());
    start.front() = index;
    count.front() = 1;
    context_.check(H5Sselect_hyperslab(file_space_.id(), H5S_SELECT_SET, start.data(), nullptr, count.data(), nullptr),
                   path_, "cannot select one slab");
}

}  // namespace echoloom
