#pragma once
/// Writes a recording, event by event, in the format of format.md beside this file.

#include <filesystem>
#include <memory>
#include <span>

#include "sim/recording/recording.h"

namespace echoloom {

class RecordingWriter {
  public:
    /// Opens a temporary beside `path` and writes all but the samples. Throws MachineError, also where the samples
    /// would not fit on the disk.
    RecordingWriter(const std::filesystem::path& path, RecordingInfo info);
    ~RecordingWriter();  ///< discards the temporary unless finish() succeeded
    RecordingWriter(RecordingWriter&&) noexcept;
    RecordingWriter& operator=(RecordingWriter&&) noexcept;

    /// Samples [channel, sample] of event `event`; events may come in any order, each once.
    void write_event(std::size_t event, std::span<const float> samples);
    /// Reads back samples already written (to add noise or quantize once the level is known).
    void read_event(std::size_t event, std::span<float> samples);
    /// Overwrites an event already written.
    void rewrite_event(std::size_t event, std::span<const float> samples);

    /// Digest, `complete`; then renames into place. Returns the content digest, which takes another pass over the
    /// samples where they were not written once each and in order.
    std::string finish();

  private:
    struct State;
    std::unique_ptr<State> state_;
};

}  // namespace echoloom
