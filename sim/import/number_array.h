#pragma once
/// Numbers in somebody else's file: an array of any shape and order, looked at where it lies.

#include <cstddef>
#include <cstdint>
#include <filesystem>
#include <memory>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "sim/base/error.h"

namespace echoloom {

enum class NumberType { int8, int16, int32, float32, float64 };
inline constexpr std::string_view number_type_names[] = {"int8", "int16", "int32", "float32", "float64"};

std::size_t bytes_of(NumberType type);
std::string word_of(NumberType type);

struct NumberArray {
    std::string name;  ///< file, and variable where there is one: for messages
    NumberType type = NumberType::float32;
    bool swapped = false;  ///< bytes lie the other way round
    std::vector<std::size_t> shape;
    std::vector<std::size_t> stride;  ///< [dimension], in numbers
    const std::byte* first = nullptr;
    std::shared_ptr<const void> owner;  ///< keeps `first` alive

    double at(std::size_t offset) const;
    /// Every `step`-th number from `offset` on.
    void copy(std::size_t offset, std::size_t step, std::span<float> values) const;
};

/// Strides of an array of this shape whose last dimension is next to next, or the first.
std::vector<std::size_t> strides_last_fastest(std::span<const std::size_t> shape);
std::vector<std::size_t> strides_first_fastest(std::span<const std::size_t> shape);

/// "31 x 128 x 2048".
std::string shape_text(std::span<const std::size_t> shape);

/// What a file without a header does not say of itself.
struct RawLayout {
    NumberType type = NumberType::int16;
    std::vector<std::size_t> shape;  ///< slowest first
    bool big_endian = false;
    std::size_t header_bytes = 0;
};
/// Throws InputError where the file is not as long as the layout says.
NumberArray open_raw(const std::filesystem::path& file, const RawLayout& layout);

/// NumPy's format, versions 1 to 3 (numpy.org, "NEP 1: A simple file format for NumPy arrays", from memory). Throws
/// InputError for anything but whole or real numbers.
NumberArray open_npy(const std::filesystem::path& file);

/// A variable of a MATLAB level-4 or level-5 file ("save -v7" or older); its dimensions in MATLAB's order. Empty
/// `variable`: the only one there is. Throws InputError that lists the variables.
NumberArray open_mat(const std::filesystem::path& file, const std::string& variable);

/// A whole file in memory, brought in as it is touched. Throws InputError where there is none.
struct MappedFile {
    const std::byte* first = nullptr;
    std::size_t bytes = 0;
    std::shared_ptr<const void> owner;
};
MappedFile map_file(const std::filesystem::path& file);

}  // namespace echoloom
