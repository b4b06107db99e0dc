#include "tools/cli/file_kind.h"

#include <hdf5.h>

#include <array>

#include "sim/base/error.h"
#include "sim/recording/hdf5_handle.h"

namespace echoloom {

namespace {

/// Our own formats are short texts of fixed length; anything else is not ours.
std::string short_text(Hdf5Id attribute) {
    const Hdf5Handle type(H5Aget_type(attribute), H5Tclose);
    std::array<char, 64> text{};
    const bool fixed = H5Tget_class(type.id()) == H5T_STRING && H5Tis_variable_str(type.id()) == 0;
    const bool scalar = H5Aget_storage_size(attribute) == H5Tget_size(type.id());
    if (!fixed || !scalar || H5Tget_size(type.id()) >= text.size() || H5Aread(attribute, type.id(), text.data()) < 0) {
        return "";
    }
    return text.data();
}

}  // namespace

std::string file_format(const std::filesystem::path& file) {
    const Hdf5Context context(file.string(), true);
    std::error_code error;
    if (!std::filesystem::exists(file, error)) {
        throw InputError({file.string()}, "no such file");
    }
    if (std::filesystem::is_directory(file, error)) {
        throw InputError({file.string()}, "this is a folder; give a recording or an image");
    }
    const Hdf5Handle opened = context.own(H5Fopen(file.c_str(), H5F_ACC_RDONLY, H5P_DEFAULT), H5Fclose, "",
                                          "not a recording or an image, or cut short");
    if (H5Aexists(opened.id(), "format") <= 0) {
        return "";
    }
    const Hdf5Handle attribute =
        context.own(H5Aopen(opened.id(), "format", H5P_DEFAULT), H5Aclose, "format", "cannot be read");
    return short_text(attribute.id());
}

}  // namespace echoloom
