#pragma once
/// Writes HDF5 that a scientist can open without us and that shows its damage: every dataset chunked with Fletcher32
/// checksums and described by `units` and `axes`, fixed-length strings, no object times, library bounds V110 (whose
/// metadata is checksummed). The same calls give the same bytes.

#include <filesystem>
#include <span>
#include <string>

#include "sim/recording/hdf5_slabs.h"

namespace echoloom {

/// What a dataset holds: a UDUNITS string ("1" for what has no unit) and a word for each dimension.
struct Hdf5Label {
    std::string units;
    std::vector<std::string> axes;
};

class Hdf5Writer {
  public:
    /// Replaces the contents of `file`; errors name `shown_as`.
    Hdf5Writer(const std::filesystem::path& file, std::string shown_as);

    void group(const std::string& path);
    void dataset(const std::string& path, std::span<const double> values, const Shape& shape, const Hdf5Label& label);
    void dataset(const std::string& path, std::span<const float> values, const Shape& shape, const Hdf5Label& label);
    void dataset(const std::string& path, std::span<const std::int32_t> values, const Shape& shape,
                 const Hdf5Label& label);
    void dataset(const std::string& path, std::span<const std::string> values, const Shape& shape,
                 const Hdf5Label& label);
    /// One value, as a dataset of length 1 (a true scalar can carry no checksum).
    void value(const std::string& path, double number, const std::string& units);
    void value(const std::string& path, const std::string& text);
    /// An empty float32 dataset, one chunk per slab of its first dimension.
    Hdf5Slabs slabs(const std::string& path, const Shape& shape, const Hdf5Label& label);

    void attribute(const std::string& object, const std::string& name, const std::string& text);
    void attribute(const std::string& object, const std::string& name, int number);
    void attribute(const std::string& object, const std::string& name, std::span<const std::string> texts);

    /// Call after every Hdf5Slabs is closed.
    void close();

  private:
    Hdf5Handle create(const std::string& path, Hdf5Id type, const Shape& shape, std::size_t rows_per_chunk,
                      const Hdf5Label& label);
    void write(const std::string& path, Hdf5Id file_type, Hdf5Id memory_type, const void* values, std::size_t count,
               const Shape& shape, const Hdf5Label& label);
    void attach(const std::string& object, const std::string& name, Hdf5Id type, std::size_t count, const void* value);

    Hdf5Context context_;
    Hdf5Handle file_;
};

}  // namespace echoloom
