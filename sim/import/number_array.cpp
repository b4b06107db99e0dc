#include "sim/import/number_array.h"

#include <algorithm>
#include <bit>
#include <cstring>

namespace echoloom {

namespace {

static_assert(std::endian::native == std::endian::little);

template <typename Number>
Number load(const std::byte* from, bool swapped) {
    std::byte bytes[sizeof(Number)];
    std::memcpy(bytes, from, sizeof(Number));
    if (swapped) {
        std::reverse(std::begin(bytes), std::end(bytes));
    }
    return std::bit_cast<Number>(bytes);
}

/// Calls `what` with a number of the type.
template <typename What>
auto with_type(NumberType type, const What& what) {
    switch (type) {
        case NumberType::int8:
            return what(std::int8_t{});
        case NumberType::int16:
            return what(std::int16_t{});
        case NumberType::int32:
            return what(std::int32_t{});
        case NumberType::float64:
            return what(double{});
        case NumberType::float32:
            break;
    }
    return what(float{});
}

/// Strides of dimensions that grow in the order of `places`.
template <typename Places>
std::vector<std::size_t> strides(std::span<const std::size_t> shape, const Places& places) {
    std::vector<std::size_t> stride(shape.size());
    std::size_t below = 1;
    for (const std::size_t place : places) {
        stride[place] = below;
        below *= shape[place];
    }
    return stride;
}

std::vector<std::size_t> counted_to(std::size_t count) {
    std::vector<std::size_t> places(count);
    for (std::size_t i = 0; i < count; ++i) {
        places[i] = i;
    }
    return places;
}

}  // namespace

std::size_t bytes_of(NumberType type) {
    return with_type(type, [](auto number) { return sizeof number; });
}

std::string word_of(NumberType type) {
    return std::string(number_type_names[static_cast<std::size_t>(type)]);
}

double NumberArray::at(std::size_t offset) const {
    return with_type(type, [&](auto number) {
        return static_cast<double>(load<decltype(number)>(first + offset * sizeof number, swapped));
    });
}

void NumberArray::copy(std::size_t offset, std::size_t step, std::span<float> values) const {
    with_type(type, [&](auto number) {
        const std::byte* from = first + offset * sizeof number;
        for (float& value : values) {
            value = static_cast<float>(load<decltype(number)>(from, swapped));
            from += step * sizeof number;
        }
    });
}

std::vector<std::size_t> strides_first_fastest(std::span<const std::size_t> shape) {
    return strides(shape, counted_to(shape.size()));
}

std::vector<std::size_t> strides_last_fastest(std::span<const std::size_t> shape) {
    std::vector<std::size_t> places = counted_to(shape.size());
    std::ranges::reverse(places);
    return strides(shape, places);
}

std::string shape_text(std::span<const std::size_t> shape) {
    std::string words;
    for (const std::size_t extent : shape) {
        words += (words.empty() ? "" : " x ") + std::to_string(extent);
    }
    return words.empty() ? "a single number" : words;
}

}  // namespace echoloom
