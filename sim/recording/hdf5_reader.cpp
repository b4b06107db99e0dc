#include "sim/recording/hdf5_reader.h"

#include <hdf5.h>

#include <algorithm>
#include <functional>
#include <limits>
#include <system_error>

#include "sim/base/settings_text.h"
#include "sim/base/text.h"

namespace echoloom {

namespace {

const WantedShape single_value{{}, "a single value"};

std::size_t size_of_file(const Hdf5Context& context, const std::filesystem::path& file) {
    std::error_code error;
    const auto status = std::filesystem::status(file, error);
    if (status.type() == std::filesystem::file_type::not_found) {
        context.fail("", "no such file");
    }
    if (status.type() == std::filesystem::file_type::directory) {
        context.fail("", "this is a folder; give a file");
    }
    if (status.type() != std::filesystem::file_type::regular) {
        context.fail("", error ? "cannot be opened: " + error.message() : "not a regular file; give an HDF5 file");
    }
    const auto bytes = std::filesystem::file_size(file, error);
    if (error || bytes == 0) {
        context.fail("", error ? "cannot be opened: " + error.message() : "the file is empty");
    }
    return bytes;
}

Hdf5Handle open_file(const Hdf5Context& context, const std::filesystem::path& file) {
    const auto access = context.own(H5Pcreate(H5P_FILE_ACCESS), H5Pclose, "", "cannot be opened");
    context.check(H5Pset_fclose_degree(access.id(), H5F_CLOSE_STRONG), "", "cannot be opened");
    // Read-only and network file systems may have no locks; what is complete never changes under its name.
    context.check(H5Pset_file_locking(access.id(), false, true), "", "cannot be opened");
    const htri_t is_hdf5 = H5Fis_hdf5(file.c_str());
    context.check(is_hdf5, "", "cannot be opened");
    if (is_hdf5 == 0) {
        context.fail("", "not an HDF5 file; give a file that echoloom wrote, or one of the same format");
    }
    return context.own(H5Fopen(file.c_str(), H5F_ACC_RDONLY, access.id()), H5Fclose, "", "cut short or damaged");
}

bool same_shape(const Shape& shape, const WantedShape& wanted) {
    const auto fits = [](std::size_t extent, std::size_t want) { return want == any_extent || extent == want; };
    if (wanted.extents.empty()) {
        return std::ranges::all_of(shape, [](std::size_t extent) { return extent == 1; });
    }
    return std::ranges::equal(shape, wanted.extents, fits);
}

/// "[element, 3] with 128 x 3"; what is free counts as "any".
std::string wanted_text(const WantedShape& wanted) {
    std::string extents;
    for (const std::size_t extent : wanted.extents) {
        extents += (extents.empty() ? " with " : " x ") + (extent == any_extent ? "any" : std::to_string(extent));
    }
    return wanted.text + extents;
}

/// Texts of fixed length lie side by side, padded with NUL or spaces.
std::string unpadded(const char* begin, std::size_t width, bool spaces) {
    std::string text(begin, std::find(begin, begin + width, '\0'));
    while (spaces && text.ends_with(' ')) {
        text.pop_back();
    }
    return text;
}

/// `read` fills a buffer with `count` values of `type`, which lie in `space`.
std::vector<std::string> read_texts(const Hdf5Context& context, const std::string& object, Hdf5Id type, Hdf5Id space,
                                    std::size_t count, const std::function<herr_t(void*)>& read) {
    std::vector<std::string> texts;
    const htri_t variable = H5Tis_variable_str(type);
    context.check(variable, object, "cannot read its type");
    if (variable > 0) {
        std::vector<char*> pointers(count, nullptr);
        const herr_t result = read(pointers.data());
        for (const char* pointer : pointers) {
            texts.emplace_back(pointer == nullptr ? "" : pointer);
        }
        H5Dvlen_reclaim(type, space, H5P_DEFAULT, pointers.data());
        context.check(result, object, "cannot be read: the file is damaged");
        return texts;
    }
    const std::size_t width = H5Tget_size(type);
    const bool spaces = H5Tget_strpad(type) == H5T_STR_SPACEPAD;
    std::vector<char> bytes(count * width);
    context.check(read(bytes.data()), object, "cannot be read: the file is damaged");
    for (std::size_t i = 0; i < count; ++i) {
        texts.push_back(unpadded(bytes.data() + i * width, width, spaces));
    }
    return texts;
}

}  // namespace

Hdf5Reader::Hdf5Reader(const std::filesystem::path& file)
    : context_(file.string(), true), file_bytes_(size_of_file(context_, file)), file_(open_file(context_, file)) {}

bool Hdf5Reader::has(const std::string& path) const {
    return hdf5_link_exists(context_, file_.id(), path);
}

Hdf5Dataset Hdf5Reader::open(const std::string& path, const WantedShape& wanted) const {
    Hdf5Dataset dataset = open_hdf5_dataset(context_, file_.id(), path, file_bytes_);
    if (!same_shape(dataset.shape, wanted)) {
        fail(path, "has the shape " + extents_text(dataset.shape) + "; give " + wanted_text(wanted));
    }
    return dataset;
}

Hdf5Dataset Hdf5Reader::open_numeric(const std::string& path, const WantedShape& wanted) const {
    Hdf5Dataset dataset = open(path, wanted);
    const H5T_class_t kind = H5Tget_class(dataset.type.id());
    // h5py keeps a truth value as an enumeration.
    if (kind != H5T_FLOAT && kind != H5T_INTEGER && kind != H5T_ENUM) {
        fail(path, "does not hold plain numbers; give real numbers (complex values as two datasets)");
    }
    return dataset;
}

Hdf5Array<double> Hdf5Reader::numbers(const std::string& path, const WantedShape& wanted) const {
    const Hdf5Dataset dataset = open_numeric(path, wanted);
    Hdf5Array<double> array{dataset.shape, std::vector<double>(dataset.count)};
    context_.check(H5Dread(dataset.handle.id(), H5T_NATIVE_DOUBLE, H5S_ALL, H5S_ALL, H5P_DEFAULT, array.values.data()),
                   path, "cannot be read: the file is damaged");
    return array;
}

Hdf5Array<float> Hdf5Reader::floats(const std::string& path, const WantedShape& wanted) const {
    const Hdf5Dataset dataset = open_numeric(path, wanted);
    Hdf5Array<float> array{dataset.shape, std::vector<float>(dataset.count)};
    context_.check(H5Dread(dataset.handle.id(), H5T_NATIVE_FLOAT, H5S_ALL, H5S_ALL, H5P_DEFAULT, array.values.data()),
                   path, "cannot be read: the file is damaged");
    return array;
}

Hdf5Array<int> Hdf5Reader::integers(const std::string& path, const WantedShape& wanted) const {
    const Hdf5Dataset dataset = open_numeric(path, wanted);
    if (H5Tget_class(dataset.type.id()) == H5T_FLOAT) {
        fail(path, "holds numbers with fractions; give integers");
    }
    std::vector<long long> wide(dataset.count);
    context_.check(H5Dread(dataset.handle.id(), H5T_NATIVE_LLONG, H5S_ALL, H5S_ALL, H5P_DEFAULT, wide.data()), path,
                   "cannot be read: the file is damaged");
    Hdf5Array<int> array{dataset.shape, {}};
    for (const long long value : wide) {
        if (value < std::numeric_limits<int>::min() || value > std::numeric_limits<int>::max()) {
            fail(path, "holds " + std::to_string(value) + "; give integers of 32 bits");
        }
        array.values.push_back(static_cast<int>(value));
    }
    return array;
}

std::vector<std::string> Hdf5Reader::texts(const std::string& path, const WantedShape& wanted) const {
    const Hdf5Dataset dataset = open(path, wanted);
    const Hdf5Id type = dataset.type.id();
    if (H5Tget_class(type) != H5T_STRING) {
        fail(path, "does not hold text; give strings");
    }
    return read_texts(context_, path, type, dataset.space.id(), dataset.count, [&](void* values) {
        return H5Dread(dataset.handle.id(), type, H5S_ALL, H5S_ALL, H5P_DEFAULT, values);
    });
}

Hdf5Slabs Hdf5Reader::slabs(const std::string& path, const WantedShape& wanted) const {
    const Hdf5Dataset dataset = open_numeric(path, wanted);
    return {context_, path, reopen_for_slabs(context_, file_.id(), path, dataset), dataset.shape};
}

double Hdf5Reader::number(const std::string& path, const Range& range) const {
    const double value = numbers(path, single_value).values.front();
    if (!in_range(value, range)) {
        fail(path, "is " + plain(value) + "; give " + wanted_number(path, range));
    }
    return value;
}

double Hdf5Reader::number_or(const std::string& path, double fallback, const Range& range) const {
    return has(path) ? number(path, range) : fallback;
}

int Hdf5Reader::integer(const std::string& path, int least, int most) const {
    const int value = integers(path, single_value).values.front();
    if (value < least || value > most) {
        fail(path, "is " + std::to_string(value) + "; give " + wanted_integer(path, least, most));
    }
    return value;
}

std::string Hdf5Reader::text(const std::string& path) const {
    return texts(path, single_value).front();
}

std::string Hdf5Reader::text_or(const std::string& path, const std::string& fallback) const {
    return has(path) ? text(path) : fallback;
}

namespace {

struct Attribute {
    Hdf5Handle handle;
    Hdf5Handle type;
    Hdf5Handle space;
};

/// Nothing where absent; otherwise one value of the wanted class.
std::optional<Attribute> open_attribute(const Hdf5Context& context, Hdf5Id file, const std::string& group,
                                        const std::string& name, std::initializer_list<H5T_class_t> classes) {
    const std::string shown = group + '@' + name;
    const htri_t exists = H5Aexists_by_name(file, group.c_str(), name.c_str(), H5P_DEFAULT);
    context.check(exists, shown, "cannot be looked up");
    if (exists == 0) {
        return std::nullopt;
    }
    Attribute attribute;
    attribute.handle = context.own(H5Aopen_by_name(file, group.c_str(), name.c_str(), H5P_DEFAULT, H5P_DEFAULT),
                                   H5Aclose, shown, "cannot be opened");
    attribute.type = context.own(H5Aget_type(attribute.handle.id()), H5Tclose, shown, "cannot read its type");
    attribute.space = context.own(H5Aget_space(attribute.handle.id()), H5Sclose, shown, "cannot read its shape");
    const H5T_class_t kind = H5Tget_class(attribute.type.id());
    if (H5Sget_simple_extent_npoints(attribute.space.id()) != 1 || std::ranges::find(classes, kind) == classes.end()) {
        context.fail(shown, *classes.begin() == H5T_STRING ? "give a single string" : "give a single integer");
    }
    return attribute;
}

}  // namespace

std::optional<std::string> Hdf5Reader::text_attribute(const std::string& group, const std::string& name) const {
    const auto attribute = open_attribute(context_, file_.id(), group, name, {H5T_STRING});
    if (!attribute) {
        return std::nullopt;
    }
    const auto read = [&](void* values) { return H5Aread(attribute->handle.id(), attribute->type.id(), values); };
    return read_texts(context_, group + '@' + name, attribute->type.id(), attribute->space.id(), 1, read).front();
}

std::optional<long long> Hdf5Reader::integer_attribute(const std::string& group, const std::string& name) const {
    const auto attribute = open_attribute(context_, file_.id(), group, name, {H5T_INTEGER, H5T_ENUM});
    if (!attribute) {
        return std::nullopt;
    }
    long long value = 0;
    context_.check(H5Aread(attribute->handle.id(), H5T_NATIVE_LLONG, &value), group + '@' + name,
                   "cannot be read: the file is damaged");
    return value;
}

}  // namespace echoloom
