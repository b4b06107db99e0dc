/// NumPy's .npy: a magic string, a header that is a Python dictionary of three keys, then the numbers.

#include <algorithm>
#include <array>
#include <charconv>
#include <optional>

#include "sim/import/number_array.h"

namespace echoloom {

namespace {

/// The header's dictionary, read as far as NumPy writes it.
class Header {
  public:
    Header(std::string name, std::string_view text) : name_(std::move(name)), text_(text) {}

    [[noreturn]] void fail(const std::string& what) const { throw InputError({name_}, what); }

    /// What follows 'key': up to the end of the header.
    std::string_view after(const std::string& key) const {
        const std::size_t found = text_.find('\'' + key + "':");
        if (found == std::string_view::npos) {
            fail("its header names no '" + key + "'; write it with numpy.save");
        }
        std::string_view rest = text_.substr(found + key.size() + 3);
        rest.remove_prefix(std::min(rest.find_first_not_of(' '), rest.size()));
        return rest;
    }

    std::string quoted(const std::string& key) const {
        const std::string_view rest = after(key);
        const std::size_t end = rest.find('\'', 1);
        if (!rest.starts_with('\'') || end == std::string_view::npos) {
            fail("holds records, not plain numbers; save one array of int16, float32 or the like");
        }
        return std::string(rest.substr(1, end - 1));
    }

    std::vector<std::size_t> extents(const std::string& key) const {
        std::string_view rest = after(key);
        const std::size_t end = rest.find(')');
        if (!rest.starts_with('(') || end == std::string_view::npos) {
            fail("its header has no shape in brackets; write it with numpy.save");
        }
        rest = rest.substr(1, end - 1);
        std::vector<std::size_t> shape;
        while (!rest.empty()) {
            const char first = rest.front();
            if (first == ' ' || first == ',') {
                rest.remove_prefix(1);
                continue;
            }
            std::size_t extent = 0;
            const auto [stop, error] = std::from_chars(rest.data(), rest.data() + rest.size(), extent);
            if (error != std::errc()) {
                fail("its header's shape is not made of whole numbers; write it with numpy.save");
            }
            rest.remove_prefix(static_cast<std::size_t>(stop - rest.data()));
            shape.push_back(extent);
        }
        return shape;
    }

  private:
    std::string name_;
    std::string_view text_;
};

struct TypeCode {
    std::string_view code;
    NumberType type;
};
constexpr std::array type_codes = {TypeCode{"i1", NumberType::int8}, TypeCode{"i2", NumberType::int16},
                                   TypeCode{"i4", NumberType::int32}, TypeCode{"f4", NumberType::float32},
                                   TypeCode{"f8", NumberType::float64}};

/// The dictionary's text, and where the numbers begin.
struct Parts {
    std::string_view header;
    std::size_t numbers_at = 0;
};

Parts split(const MappedFile& file, const std::string& name) {
    constexpr std::string_view magic = "\x93NUMPY";
    const std::string_view bytes(reinterpret_cast<const char*>(file.first), file.bytes);
    const auto byte = [&](std::size_t at) { return static_cast<std::size_t>(static_cast<unsigned char>(bytes[at])); };
    if (!bytes.starts_with(magic) || bytes.size() < 12) {
        throw InputError({name}, "is no .npy file; write it with numpy.save");
    }
    const std::size_t version = byte(6);
    if (version < 1 || version > 3) {
        throw InputError({name}, "is of .npy version " + std::to_string(version) + ", and this program reads 1 to 3");
    }
    const std::size_t begin = version == 1 ? 10 : 12;
    const std::size_t length = byte(8) | byte(9) << 8U | (version == 1 ? 0 : byte(10) << 16U | byte(11) << 24U);
    if (length > bytes.size() - begin) {
        throw InputError({name}, "is cut short within its header; copy it again");
    }
    return {bytes.substr(begin, length), begin + length};
}

}  // namespace

NumberArray open_npy(const std::filesystem::path& file) {
    const MappedFile mapped = map_file(file);
    NumberArray array;
    array.name = file.string();
    const Parts parts = split(mapped, array.name);
    const Header header(array.name, parts.header);
    const std::string code = header.quoted("descr");
    const auto* known = std::ranges::find(
        type_codes, std::string_view(code).substr(std::min<std::size_t>(1, code.size())), &TypeCode::code);
    if (code.size() != 3 || known == type_codes.end()) {
        header.fail("holds numbers of NumPy's type '" + code + "'; save int8, int16, int32, float32 or float64");
    }
    array.type = known->type;
    array.swapped = code.front() == '>';
    array.shape = header.extents("shape");
    array.stride = header.after("fortran_order").starts_with("True") ? strides_first_fastest(array.shape)
                                                                     : strides_last_fastest(array.shape);
    std::size_t wanted = bytes_of(array.type);
    for (const std::size_t extent : array.shape) {
        if (__builtin_mul_overflow(wanted, extent, &wanted)) {
            header.fail("its header's shape is larger than any file; write it with numpy.save");
        }
    }
    if (mapped.bytes - parts.numbers_at < wanted) {
        header.fail("is cut short: " + shape_text(array.shape) + " numbers take " + std::to_string(wanted) +
                    " bytes, and it holds " + std::to_string(mapped.bytes - parts.numbers_at) + "; copy it again");
    }
    array.first = mapped.first + parts.numbers_at;
    array.owner = mapped.owner;
    return array;
}

}  // namespace echoloom
