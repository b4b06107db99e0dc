/// MATLAB's .mat files of level 4 and 5, through libmatio.

#include <matio.h>

#include <algorithm>
#include <optional>

#include "sim/import/number_array.h"

namespace echoloom {

namespace {

using OpenMat = std::unique_ptr<mat_t, int (*)(mat_t*)>;

/// The library's own messages are dropped; ours take their place.
void keep_silent(int, char*) {}

std::optional<NumberType> type_of(const matvar_t& variable) {
    switch (variable.class_type) {
        case MAT_C_INT8:
            return NumberType::int8;
        case MAT_C_INT16:
            return NumberType::int16;
        case MAT_C_INT32:
            return NumberType::int32;
        case MAT_C_SINGLE:
            return NumberType::float32;
        case MAT_C_DOUBLE:
            return NumberType::float64;
        default:
            return std::nullopt;
    }
}

std::vector<std::string> variables_of(const std::filesystem::path& file, mat_t* mat) {
    std::size_t count = 0;
    char** names = Mat_GetDir(mat, &count);
    if (names == nullptr) {
        throw InputError({file.string()}, "holds no variable that can be read; save it again with MATLAB's save -v7");
    }
    return {names, names + count};
}

std::string listed(const std::vector<std::string>& names) {
    std::string words;
    for (const std::string& name : names) {
        words += (words.empty() ? "" : ", ") + name;
    }
    return words;
}

std::string pick(const std::filesystem::path& file, const std::vector<std::string>& names, const std::string& wanted) {
    if (wanted.empty() && names.size() == 1) {
        return names.front();
    }
    if (wanted.empty()) {
        throw InputError({file.string()},
                         "holds several variables; name one of them, by samples.variable for the "
                         "samples: " +
                             listed(names));
    }
    if (std::ranges::find(names, wanted) == names.end()) {
        throw InputError({file.string()}, "holds no variable '" + wanted + "'; name one of " + listed(names));
    }
    return wanted;
}

OpenMat open(const std::filesystem::path& file) {
    map_file(file);  // says what is wrong with a file that is not there
    Mat_LogInitFunc("echoloom", keep_silent);
    OpenMat mat(Mat_Open(file.c_str(), MAT_ACC_RDONLY), Mat_Close);
    if (!mat) {
        throw InputError({file.string()}, "is no MATLAB file that can be read; save it with MATLAB's save -v7");
    }
    if (Mat_GetVersion(mat.get()) == MAT_FT_MAT73) {
        throw InputError({file.string()},
                         "is a MATLAB file of version 7.3; save it with save -v7, or write the samples with fwrite and "
                         "import them as raw numbers");
    }
    return mat;
}

}  // namespace

NumberArray open_mat(const std::filesystem::path& file, const std::string& variable) {
    const OpenMat mat = open(file);
    const std::string name = pick(file, variables_of(file, mat.get()), variable);
    NumberArray array;
    array.name = file.string() + ": " + name;
    const std::shared_ptr<matvar_t> read(Mat_VarRead(mat.get(), name.c_str()), Mat_VarFree);
    if (!read || read->data == nullptr) {
        throw InputError({array.name}, "cannot be read or is empty; save it again with MATLAB's save -v7");
    }
    const std::optional<NumberType> type = type_of(*read);
    if (read->isComplex != 0 || !type) {
        throw InputError({array.name}, read->isComplex != 0
                                           ? "holds complex numbers; samples are real RF, before any demodulation"
                                           : "is no array of int8, int16, int32, single or double; convert it");
    }
    array.type = *type;
    array.shape.assign(read->dims, read->dims + read->rank);
    array.stride = strides_first_fastest(array.shape);
    std::size_t wanted = bytes_of(array.type);
    for (const std::size_t extent : array.shape) {
        if (__builtin_mul_overflow(wanted, extent, &wanted)) {
            wanted = static_cast<std::size_t>(-1);
        }
    }
    if (read->nbytes != wanted) {  // the library's own arithmetic, held to ours before anything is read there
        throw InputError({array.name}, "is damaged: its size and its numbers disagree; save it again");
    }
    array.first = static_cast<const std::byte*>(read->data);
    array.owner = read;
    return array;
}

}  // namespace echoloom
