#pragma once
/// Reads HDF5 that somebody else may have written and something may have damaged. Nothing is allocated before its
/// extent has been held against the file's size; soft and external links, external and virtual storage, and filters
/// other than Fletcher32, deflate and shuffle are refused. Strings may be of fixed or variable length.

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "sim/base/settings.h"
#include "sim/recording/hdf5_dataset.h"
#include "sim/recording/hdf5_slabs.h"

namespace echoloom {

/// What a dataset should look like: extents (`any_extent` where free) and the same as text, such as "[element, 3]".
inline constexpr std::size_t any_extent = static_cast<std::size_t>(-1);
struct WantedShape {
    Shape extents;
    std::string text;
};

template <typename Value>
struct Hdf5Array {
    Shape shape;
    std::vector<Value> values;  ///< C order
};

class Hdf5Reader {
  public:
    /// Throws InputError where there is no such file, it is not HDF5, or it is cut short.
    explicit Hdf5Reader(const std::filesystem::path& file);

    [[noreturn]] void fail(const std::string& object, const std::string& what) const { context_.fail(object, what); }
    bool has(const std::string& path) const;

    /// Any number type; integers must fit 32 bits.
    Hdf5Array<double> numbers(const std::string& path, const WantedShape& wanted) const;
    Hdf5Array<float> floats(const std::string& path, const WantedShape& wanted) const;
    Hdf5Array<int> integers(const std::string& path, const WantedShape& wanted) const;
    std::vector<std::string> texts(const std::string& path, const WantedShape& wanted) const;
    Hdf5Slabs slabs(const std::string& path, const WantedShape& wanted) const;

    /// One value: a dataset of length 1 or a true scalar.
    double number(const std::string& path, const Range& range) const;
    double number_or(const std::string& path, double fallback, const Range& range) const;
    int integer(const std::string& path, int least, int most) const;
    std::string text(const std::string& path) const;
    std::string text_or(const std::string& path, const std::string& fallback) const;

    /// A single value attached to a group; nothing where absent.
    std::optional<std::string> text_attribute(const std::string& group, const std::string& name) const;
    std::optional<long long> integer_attribute(const std::string& group, const std::string& name) const;

  private:
    Hdf5Dataset open(const std::string& path, const WantedShape& wanted) const;
    Hdf5Dataset open_numeric(const std::string& path, const WantedShape& wanted) const;

    Hdf5Context context_;
    std::size_t file_bytes_ = 0;
    Hdf5Handle file_;
};

}  // namespace echoloom
