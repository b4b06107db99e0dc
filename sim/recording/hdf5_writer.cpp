#include "sim/recording/hdf5_writer.h"

#include <hdf5.h>

#include <algorithm>
#include <functional>
#include <numeric>
#include <utility>

#include "sim/base/text.h"

namespace echoloom {

namespace {

constexpr std::size_t max_chunk_bytes = std::size_t{16} << 20;

std::size_t count_of(const Shape& shape) {
    return std::accumulate(shape.begin(), shape.end(), std::size_t{1}, std::multiplies<>());
}

std::size_t row_count_of(const Shape& shape) {
    return std::accumulate(shape.begin() + 1, shape.end(), std::size_t{1}, std::multiplies<>());
}

/// Texts side by side, each padded with NUL to the longest and one more.
struct PackedTexts {
    std::size_t width = 1;
    std::string bytes;
};

PackedTexts pack(std::span<const std::string> texts) {
    PackedTexts packed;
    for (const std::string& text : texts) {
        packed.width = std::max(packed.width, text.size() + 1);
    }
    for (const std::string& text : texts) {
        packed.bytes += text;
        packed.bytes.append(packed.width - text.size(), '\0');
    }
    return packed;
}

/// The bytes of a text are UTF-8, and an attribute says so. A dataset is marked ASCII all the same: HDF5 does not
/// convert from one mark to the other, and one dataset marked UTF-8 makes Octave's `load` fail for its whole group.
enum class TextPlace { attribute, dataset };

Hdf5Handle text_type(const Hdf5Context& context, const std::string& object, std::size_t width, TextPlace place) {
    Hdf5Handle type = context.own(H5Tcopy(H5T_C_S1), H5Tclose, object, "cannot describe text");
    context.check(H5Tset_size(type.id(), width), object, "cannot describe text");
    context.check(H5Tset_strpad(type.id(), H5T_STR_NULLTERM), object, "cannot describe text");
    context.check(H5Tset_cset(type.id(), place == TextPlace::attribute ? H5T_CSET_UTF8 : H5T_CSET_ASCII), object,
                  "cannot describe text");
    return type;
}

/// Links and attributes stay in the object headers, which are checksummed as a whole.
void keep_compact(const Hdf5Context& context, Hdf5Id properties, const std::string& object) {
    context.check(H5Pset_obj_track_times(properties, false), object, "cannot leave out times");
    context.check(H5Pset_link_phase_change(properties, 64, 0), object, "cannot choose how links are kept");
    context.check(H5Pset_attr_phase_change(properties, 64, 0), object, "cannot choose how attributes are kept");
}

Hdf5Handle create_file(const Hdf5Context& context, const std::filesystem::path& file) {
    const auto creation = context.own(H5Pcreate(H5P_FILE_CREATE), H5Pclose, "", "cannot write");
    const auto access = context.own(H5Pcreate(H5P_FILE_ACCESS), H5Pclose, "", "cannot write");
    keep_compact(context, creation.id(), "");
    context.check(H5Pset_libver_bounds(access.id(), H5F_LIBVER_V110, H5F_LIBVER_V110), "", "cannot choose a version");
    context.check(H5Pset_fclose_degree(access.id(), H5F_CLOSE_STRONG), "", "cannot write");
    // The temporary is ours alone, and some network file systems have no locks.
    context.check(H5Pset_file_locking(access.id(), false, true), "", "cannot write");
    return context.own(H5Fcreate(file.c_str(), H5F_ACC_TRUNC, creation.id(), access.id()), H5Fclose, "",
                       "cannot write");
}

/// A dimension of no extent must be allowed to grow, or HDF5 lets no chunk lie in it.
Hdf5Handle dataspace(const Hdf5Context& context, const std::string& path, const Shape& shape) {
    const std::vector<hsize_t> extents(shape.begin(), shape.end());
    std::vector<hsize_t> most = extents;
    std::ranges::replace(most, hsize_t{0}, H5S_UNLIMITED);
    return context.own(H5Screate_simple(static_cast<int>(extents.size()), extents.data(), most.data()), H5Sclose, path,
                       "cannot describe its shape");
}

}  // namespace

Hdf5Writer::Hdf5Writer(const std::filesystem::path& file, std::string shown_as)
    : context_(std::move(shown_as), false), file_(create_file(context_, file)) {}

void Hdf5Writer::group(const std::string& path) {
    const auto creation = context_.own(H5Pcreate(H5P_GROUP_CREATE), H5Pclose, path, "cannot write");
    keep_compact(context_, creation.id(), path);
    context_.own(H5Gcreate2(file_.id(), path.c_str(), H5P_DEFAULT, creation.id(), H5P_DEFAULT), H5Gclose, path,
                 "cannot write");
}

void Hdf5Writer::dataset(const std::string& path, std::span<const double> values, const Shape& shape,
                         const Hdf5Label& label) {
    write(path, H5T_IEEE_F64LE, H5T_NATIVE_DOUBLE, values.data(), values.size(), shape, label);
}

void Hdf5Writer::dataset(const std::string& path, std::span<const float> values, const Shape& shape,
                         const Hdf5Label& label) {
    write(path, H5T_IEEE_F32LE, H5T_NATIVE_FLOAT, values.data(), values.size(), shape, label);
}

void Hdf5Writer::dataset(const std::string& path, std::span<const std::int32_t> values, const Shape& shape,
                         const Hdf5Label& label) {
    write(path, H5T_STD_I32LE, H5T_NATIVE_INT32, values.data(), values.size(), shape, label);
}

void Hdf5Writer::dataset(const std::string& path, std::span<const std::string> values, const Shape& shape,
                         const Hdf5Label& label) {
    const PackedTexts packed = pack(values);
    const Hdf5Handle type = text_type(context_, path, packed.width, TextPlace::dataset);
    write(path, type.id(), type.id(), packed.bytes.data(), values.size(), shape, label);
}

void Hdf5Writer::value(const std::string& path, double number, const std::string& units) {
    dataset(path, std::span(&number, 1), {1}, {units, {"."}});
}

void Hdf5Writer::value(const std::string& path, const std::string& text) {
    dataset(path, std::span(&text, 1), {1}, {"1", {"."}});
}

Hdf5Slabs Hdf5Writer::slabs(const std::string& path, const Shape& shape, const Hdf5Label& label) {
    return {context_, path, create(path, H5T_IEEE_F32LE, shape, 1, label), shape};
}

Hdf5Handle Hdf5Writer::create(const std::string& path, Hdf5Id type, const Shape& shape, std::size_t rows_per_chunk,
                              const Hdf5Label& label) {
    std::vector<hsize_t> chunk(shape.begin(), shape.end());
    chunk.front() = rows_per_chunk;
    std::ranges::replace(chunk, hsize_t{0}, hsize_t{1});
    const auto creation = context_.own(H5Pcreate(H5P_DATASET_CREATE), H5Pclose, path, "cannot write");
    context_.check(H5Pset_chunk(creation.id(), static_cast<int>(chunk.size()), chunk.data()), path,
                   "cannot cut it into chunks");
    context_.check(H5Pset_fletcher32(creation.id()), path, "cannot add checksums");
    context_.check(H5Pset_obj_track_times(creation.id(), false), path, "cannot leave out times");
    context_.check(H5Pset_fill_time(creation.id(), H5D_FILL_TIME_NEVER), path, "cannot leave out fill values");
    const auto space = dataspace(context_, path, shape);
    auto dataset =
        context_.own(H5Dcreate2(file_.id(), path.c_str(), type, space.id(), H5P_DEFAULT, creation.id(), H5P_DEFAULT),
                     H5Dclose, path, "cannot write");
    attribute(path, "units", label.units);
    attribute(path, "axes", label.axes);
    return dataset;
}

void Hdf5Writer::write(const std::string& path, Hdf5Id file_type, Hdf5Id memory_type, const void* values,
                       std::size_t count, const Shape& shape, const Hdf5Label& label) {
    if (count != count_of(shape) || label.axes.size() != shape.size()) {
        context_.fail(path, "cannot write " + std::to_string(count) + " values as " + extents_text(shape) +
                                ": its parts disagree");
    }
    const std::size_t row_bytes = std::max<std::size_t>(1, row_count_of(shape) * H5Tget_size(file_type));
    const std::size_t rows =
        std::clamp<std::size_t>(max_chunk_bytes / row_bytes, 1, std::max<std::size_t>(1, shape[0]));
    Hdf5Handle dataset = create(path, file_type, shape, rows, label);
    if (count > 0) {
        context_.check(H5Dwrite(dataset.id(), memory_type, H5S_ALL, H5S_ALL, H5P_DEFAULT, values), path,
                       "cannot write");
    }
    // Closing is what writes the chunks out.
    if (!dataset.close()) {
        context_.refuse(path, "cannot write");
    }
}

void Hdf5Writer::attribute(const std::string& object, const std::string& name, const std::string& text) {
    const PackedTexts packed = pack(std::span(&text, 1));
    attach(object, name, text_type(context_, object, packed.width, TextPlace::attribute).id(), 0, packed.bytes.data());
}

void Hdf5Writer::attribute(const std::string& object, const std::string& name, int number) {
    attach(object, name, H5T_STD_I32LE, 0, &number);
}

void Hdf5Writer::attribute(const std::string& object, const std::string& name, std::span<const std::string> texts) {
    const PackedTexts packed = pack(texts);
    attach(object, name, text_type(context_, object, packed.width, TextPlace::attribute).id(), texts.size(),
           packed.bytes.data());
}

/// `count` 0 makes a scalar. The value has the layout of `type` on a little-endian machine, which is all we build for.
void Hdf5Writer::attach(const std::string& object, const std::string& name, Hdf5Id type, std::size_t count,
                        const void* value) {
    const std::string shown = object + '@' + name;
    const auto space = count == 0 ? context_.own(H5Screate(H5S_SCALAR), H5Sclose, shown, "cannot write")
                                  : dataspace(context_, shown, {count});
    const auto attribute = context_.own(H5Acreate_by_name(file_.id(), object.c_str(), name.c_str(), type, space.id(),
                                                          H5P_DEFAULT, H5P_DEFAULT, H5P_DEFAULT),
                                        H5Aclose, shown, "cannot write");
    context_.check(H5Awrite(attribute.id(), type, value), shown, "cannot write");
}

void Hdf5Writer::close() {
    if (!file_.close()) {
        context_.refuse("", "cannot write");
    }
}

}  // namespace echoloom
