#pragma once
/// Reads a recording, simulated or acquired; trusts nothing in the file until it is checked.

#include <filesystem>
#include <memory>
#include <span>

#include "sim/recording/recording.h"

namespace echoloom {

class RecordingReader {
  public:
    /// Throws InputError for a file that is not a complete recording of a known version or whose contents disagree.
    explicit RecordingReader(const std::filesystem::path& path);
    ~RecordingReader();
    RecordingReader(RecordingReader&&) noexcept;
    RecordingReader& operator=(RecordingReader&&) noexcept;

    const RecordingInfo& info() const;
    /// Fills samples [channel, sample] of one event.
    void read_event(std::size_t event, std::span<float> samples);
    /// True where the samples and geometry still have the digest the file carries; false where it carries none.
    bool verify();

  private:
    struct State;
    std::unique_ptr<State> state_;
};

}  // namespace echoloom
