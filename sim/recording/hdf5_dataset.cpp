#include "sim/recording/hdf5_dataset.h"

#include <hdf5.h>

#include <algorithm>
#include <array>
#include <limits>

namespace echoloom {

namespace {

constexpr int max_dimensions = 8;
/// Deflate cannot do better: 258 bytes from two bits (RFC 1951, length and distance codes of one bit each).
constexpr std::size_t max_deflation = 1032;

std::size_t times(std::size_t a, std::size_t b) {
    std::size_t product = 0;
    return __builtin_mul_overflow(a, b, &product) ? std::numeric_limits<std::size_t>::max() : product;
}

struct Filters {
    bool deflated = false;
};

Filters check_filters(const Hdf5Context& context, Hdf5Id creation, const std::string& path) {
    Filters filters;
    const int count = H5Pget_nfilters(creation);
    context.check(count, path, "cannot read its filters");
    for (int i = 0; i < count; ++i) {
        unsigned flags = 0;
        unsigned settings = 0;
        std::size_t setting_count = 0;
        const H5Z_filter_t filter =
            H5Pget_filter2(creation, static_cast<unsigned>(i), &flags, &setting_count, nullptr, 0, nullptr, &settings);
        if (filter != H5Z_FILTER_FLETCHER32 && filter != H5Z_FILTER_DEFLATE && filter != H5Z_FILTER_SHUFFLE) {
            context.fail(path, "is stored through filter " + std::to_string(filter) +
                                   "; store it with no filter but Fletcher32, deflate (gzip) and shuffle");
        }
        filters.deflated = filters.deflated || filter == H5Z_FILTER_DEFLATE;
    }
    return filters;
}

Shape chunk_of(const Hdf5Context& context, Hdf5Id creation, const std::string& path) {
    std::array<hsize_t, max_dimensions> extents{};
    const int rank = H5Pget_chunk(creation, max_dimensions, extents.data());
    context.check(rank, path, "cannot read its chunks");
    if (rank > max_dimensions ||
        std::any_of(extents.begin(), extents.begin() + rank, [](hsize_t n) { return n == 0; })) {
        context.fail(path, "has chunks of a shape that cannot be read");
    }
    return {extents.begin(), extents.begin() + rank};
}

void read_shape(const Hdf5Context& context, Hdf5Dataset& dataset, const std::string& path) {
    dataset.space = context.own(H5Dget_space(dataset.handle.id()), H5Sclose, path, "cannot read its shape");
    const Hdf5Id space = dataset.space.id();
    const int rank = H5Sget_simple_extent_ndims(space);
    context.check(rank, path, "cannot read its shape");
    if (H5Sget_simple_extent_type(space) == H5S_NULL || rank > max_dimensions) {
        context.fail(path, "has no shape that can be read; give an array of at most " + std::to_string(max_dimensions) +
                               " dimensions");
    }
    std::array<hsize_t, max_dimensions> extents{};
    context.check(H5Sget_simple_extent_dims(space, extents.data(), nullptr), path, "cannot read its shape");
    dataset.shape.assign(extents.begin(), extents.begin() + rank);
    dataset.count = 1;
    for (const std::size_t extent : dataset.shape) {
        dataset.count = times(dataset.count, extent);
    }
}

/// Every chunk must be there: HDF5 would read a missing one as zeros.
void check_chunks(const Hdf5Context& context, const Hdf5Dataset& dataset, const Shape& chunk, std::size_t max_bytes,
                  const std::string& path) {
    if (chunk.size() != dataset.shape.size()) {
        context.fail(path, "has chunks of another rank than itself: the file is damaged");
    }
    std::size_t chunk_bytes = H5Tget_size(dataset.type.id());
    hsize_t wanted = 1;
    for (std::size_t i = 0; i < chunk.size(); ++i) {
        chunk_bytes = times(chunk_bytes, chunk[i]);
        wanted *= (dataset.shape[i] + chunk[i] - 1) / chunk[i];
    }
    hsize_t stored = 0;
    context.check(H5Dget_num_chunks(dataset.handle.id(), dataset.space.id(), &stored), path, "cannot count its chunks");
    if (chunk_bytes > max_bytes || stored != wanted) {
        context.fail(path, "is incomplete: " + std::to_string(stored) + " of its " + std::to_string(wanted) +
                               " chunks are in the file");
    }
}

void check_storage(const Hdf5Context& context, const Hdf5Dataset& dataset, const std::string& path,
                   std::size_t file_bytes) {
    const auto creation =
        context.own(H5Dget_create_plist(dataset.handle.id()), H5Pclose, path, "cannot read how it is stored");
    const H5D_layout_t layout = H5Pget_layout(creation.id());
    if (layout != H5D_COMPACT && layout != H5D_CONTIGUOUS && layout != H5D_CHUNKED) {
        context.fail(path, "lies in other files (virtual storage); store the values themselves");
    }
    if (H5Pget_external_count(creation.id()) != 0) {
        context.fail(path, "lies in another file (external storage); store the values themselves");
    }
    const Filters filters = check_filters(context, creation.id(), path);
    if (dataset.count == 0) {
        return;
    }
    const std::size_t bytes = times(dataset.count, H5Tget_size(dataset.type.id()));
    const std::size_t max_bytes = times(file_bytes, filters.deflated ? max_deflation : 1);
    if (bytes > max_bytes) {
        context.fail(path, "claims " + extents_text(dataset.shape) + " values, more than the file can hold");
    }
    if (layout == H5D_CHUNKED) {
        check_chunks(context, dataset, chunk_of(context, creation.id(), path), max_bytes, path);
    } else if (H5Dget_storage_size(dataset.handle.id()) < bytes) {
        context.fail(path, "is incomplete: its values were never written");
    }
}

}  // namespace

bool hdf5_link_exists(const Hdf5Context& context, Hdf5Id file, const std::string& path) {
    for (std::size_t end = 0; end != std::string::npos;) {
        end = path.find('/', end + 1);
        const std::string part = path.substr(0, end);
        const htri_t exists = H5Lexists(file, part.c_str(), H5P_DEFAULT);
        context.check(exists, part, "cannot be looked up");
        if (exists == 0) {
            return false;
        }
        H5L_info_t link{};
        context.check(H5Lget_info(file, part.c_str(), &link, H5P_DEFAULT), part, "cannot be looked up");
        if (link.type != H5L_TYPE_HARD) {
            context.fail(part, "is a soft or external link; store what it points to");
        }
    }
    return true;
}

Hdf5Dataset open_hdf5_dataset(const Hdf5Context& context, Hdf5Id file, const std::string& path,
                              std::size_t file_bytes) {
    if (!hdf5_link_exists(context, file, path)) {
        context.fail(path, "is missing; a dataset is needed here");
    }
    Hdf5Dataset dataset;
    dataset.handle =
        context.own(H5Dopen2(file, path.c_str(), H5P_DEFAULT), H5Dclose, path, "cannot be opened as a dataset");
    dataset.type = context.own(H5Dget_type(dataset.handle.id()), H5Tclose, path, "cannot read its type");
    read_shape(context, dataset, path);
    check_storage(context, dataset, path, file_bytes);
    return dataset;
}

Hdf5Handle reopen_for_slabs(const Hdf5Context& context, Hdf5Id file, const std::string& path,
                            const Hdf5Dataset& dataset) {
    constexpr std::size_t max_cache_bytes = std::size_t{256} << 20;
    const auto access = context.own(H5Pcreate(H5P_DATASET_ACCESS), H5Pclose, path, "cannot be opened as a dataset");
    const auto creation =
        context.own(H5Dget_create_plist(dataset.handle.id()), H5Pclose, path, "cannot read how it is stored");
    if (H5Pget_layout(creation.id()) == H5D_CHUNKED) {
        const Shape chunk = chunk_of(context, creation.id(), path);
        std::size_t bytes = times(H5Tget_size(dataset.type.id()), chunk.front());
        for (std::size_t i = 1; i < chunk.size(); ++i) {
            bytes = times(bytes, (dataset.shape[i] + chunk[i] - 1) / chunk[i] * chunk[i]);
        }
        context.check(H5Pset_chunk_cache(access.id(), 12421, std::min(bytes, max_cache_bytes), 1.0), path,
                      "cannot make room for its chunks");
    }
    return context.own(H5Dopen2(file, path.c_str(), access.id()), H5Dclose, path, "cannot be opened as a dataset");
}

}  // namespace echoloom
