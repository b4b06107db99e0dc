#pragma once
/// Ownership of HDF5's identifiers, and its refusals as errors of ours. HDF5 is called on one thread alone: not every
/// build of the library is safe on more.

#include <cstdint>
#include <string>
#include <vector>

namespace echoloom {

using Hdf5Id = std::int64_t;             ///< HDF5's hid_t, without its header
using Shape = std::vector<std::size_t>;  ///< extents, slowest dimension first

class Hdf5Handle {
  public:
    using Closer = int (*)(Hdf5Id);
    Hdf5Handle() = default;
    Hdf5Handle(Hdf5Id id, Closer closer) : id_(id), closer_(closer) {}
    ~Hdf5Handle() { close(); }
    Hdf5Handle(const Hdf5Handle&) = delete;
    Hdf5Handle& operator=(const Hdf5Handle&) = delete;
    Hdf5Handle(Hdf5Handle&& other) noexcept;
    Hdf5Handle& operator=(Hdf5Handle&& other) noexcept;

    Hdf5Id id() const { return id_; }
    bool close();  ///< false where HDF5 could not; nothing is left to close either way

  private:
    Hdf5Id id_ = -1;
    Closer closer_ = nullptr;
};

/// Whose file a call works on. What goes wrong while reading is the file's fault (InputError) unless the system says
/// otherwise; what goes wrong while writing is the machine's (MachineError).
class Hdf5Context {
  public:
    /// Also silences HDF5's own printing and forbids filters from plug-ins.
    Hdf5Context(std::string file, bool reading);

    const std::string& file() const { return file_; }
    /// `object` is a dataset's or attribute's path, or empty for the file as a whole.
    [[noreturn]] void fail(const std::string& object, const std::string& what) const;
    /// The same for a call HDF5 has just refused, with its deepest reason.
    [[noreturn]] void refuse(const std::string& object, const std::string& what) const;
    /// Passes on what HDF5 returned, which is negative where it refused.
    Hdf5Id check(Hdf5Id returned, const std::string& object, const std::string& what) const;
    Hdf5Handle own(Hdf5Id id, Hdf5Handle::Closer closer, const std::string& object, const std::string& what) const;

  private:
    std::string file_;
    bool reading_;
};

/// "10 x 64 x 2000".
std::string extents_text(const Shape& shape);

}  // namespace echoloom
