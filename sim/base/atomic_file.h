#pragma once
/// An output is written beside its final name, flushed, and renamed into place: the final name never holds a partial
/// file.

#include <filesystem>
#include <span>

namespace echoloom {

class AtomicFile {
  public:
    /// Creates an empty temporary file in the folder of `final_name` (itself created where missing), so that a folder
    /// that cannot be written to is known before the work starts. Throws MachineError.
    explicit AtomicFile(std::filesystem::path final_name);
    ~AtomicFile();  ///< removes the temporary file unless commit() succeeded
    AtomicFile(const AtomicFile&) = delete;
    AtomicFile& operator=(const AtomicFile&) = delete;
    AtomicFile(AtomicFile&&) noexcept;
    AtomicFile& operator=(AtomicFile&&) noexcept;

    const std::filesystem::path& temporary() const { return temporary_; }
    /// fsync, rename, fsync of the folder. Call after every handle on the temporary is closed. Throws MachineError.
    void commit();

  private:
    std::filesystem::path final_;
    std::filesystem::path temporary_;
    int slot_;  ///< where discard_temporaries() finds it
};

/// Writes a whole file that way.
void write_file(const std::filesystem::path& path, std::span<const char> bytes);

/// Removes every temporary file not yet committed; safe to call from a signal handler (Ctrl-C).
void discard_temporaries() noexcept;

}  // namespace echoloom
