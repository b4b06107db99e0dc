#pragma once
/// Which of our files a file is.

#include <filesystem>
#include <string>

namespace echoloom {

/// The "format" its root carries ("echoloom recording", "echoloom image"); empty for HDF5 of another origin. Throws
/// InputError for a file that is not there or is no HDF5.
std::string file_format(const std::filesystem::path& file);

}  // namespace echoloom
