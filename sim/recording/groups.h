#pragma once
/// The groups that say what a recording is, everything but its samples: /receive (without rf), /probe, /transmit,
/// /medium, /truth and /source. An image file carries the same groups below /recording.

#include <string>

#include "sim/recording/hdf5_reader.h"
#include "sim/recording/hdf5_writer.h"
#include "sim/recording/recording.h"

namespace echoloom {

/// `root` is the path of the group they lie in, empty for the file's own root.
void write_groups(Hdf5Writer& writer, const std::string& root, const RecordingInfo& info);

/// Fills in everything but `samples`, digest and version. /truth and /source may be missing, and of the rest whatever
/// format.md calls optional. Throws InputError where values are out of range or disagree.
RecordingInfo read_groups(const Hdf5Reader& reader, const std::string& root);

/// What the root of every file of ours says first.
struct FileFormat {
    std::string name;  ///< "echoloom recording"
    int version = 1;
};
inline const FileFormat recording_format{"echoloom recording", 1};
void write_format(Hdf5Writer& writer, const FileFormat& format, const std::string& program_version);
/// The last thing written.
void write_complete(Hdf5Writer& writer);
/// Throws InputError for another kind of file, a newer version, or a file that was never finished.
void check_format(const Hdf5Reader& reader, const FileFormat& format);

/// The name of the format a file says it has; empty where it says none. Throws as Hdf5Reader does.
std::string format_of(const std::filesystem::path& file);

/// Of this program.
std::string program_version();

}  // namespace echoloom
