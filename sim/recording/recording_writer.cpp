#include "sim/recording/recording_writer.h"

#include <algorithm>
#include <cstdint>
#include <limits>
#include <optional>
#include <system_error>
#include <utility>
#include <vector>

#include "sim/base/atomic_file.h"
#include "sim/base/background_digest.h"
#include "sim/base/text.h"
#include "sim/recording/groups.h"
#include "sim/recording/sample_digest.h"
#include "sim/recording/tables.h"

namespace echoloom {

namespace {

/// Known before the work starts, not after hours of it.
void check_room(const std::filesystem::path& path, const std::filesystem::path& temporary, const RecordingInfo& info) {
    constexpr double max_chunk_bytes = std::numeric_limits<std::uint32_t>::max();
    const double event_bytes = sizeof(float) * static_cast<double>(info.channels) * static_cast<double>(info.samples);
    if (event_bytes == 0.0 || info.events.empty()) {
        throw MachineError(at({path.string()}, "a recording needs at least one event, channel and sample"));
    }
    if (event_bytes > max_chunk_bytes) {
        throw MachineError(at({path.string()}, "one event would take " + human_bytes(event_bytes) +
                                                   ", and HDF5 keeps at most 4 GiB in one piece; record fewer "
                                                   "channels or a lesser depth"));
    }
    const double bytes = event_bytes * static_cast<double>(info.events.size());
    std::error_code error;
    const auto space = std::filesystem::space(temporary, error);
    if (!error && bytes > static_cast<double>(space.available)) {
        throw MachineError(at({path.string()}, "the recording takes " + human_bytes(bytes) + ", and the disk has " +
                                                   human_bytes(static_cast<double>(space.available)) +
                                                   " left; free some space or choose a folder on another disk"));
    }
}

}  // namespace

struct RecordingWriter::State {
    State(const std::filesystem::path& path, RecordingInfo description)
        : name(path.string()), info(std::move(description)), file(path), writer(file.temporary(), name) {
        check_room(path, file.temporary(), info);
        written.resize(info.events.size(), false);
        if (info.source.probe.empty()) {
            info.source.probe = info.probe.source;
        }
        write_format(writer, recording_format, program_version());
        write_groups(writer, "", info);
        samples.emplace(writer.slabs("/receive/rf", {info.events.size(), info.channels, info.samples},
                                     {"1", {"event", "channel", "sample"}}));
        point_viewers_at_samples();
    }

    /// Viewers that follow NXdata find the plot by these.
    void point_viewers_at_samples() {
        const std::vector<std::string> no_coordinates(3, ".");
        writer.attribute("/", "default", "receive");
        writer.attribute("/receive", "NX_class", "NXdata");
        writer.attribute("/receive", "signal", "rf");
        writer.attribute("/receive", "axes", no_coordinates);
    }

    [[noreturn]] void fail(std::size_t event, const std::string& what) const {
        throw MachineError(at({name}, "event " + std::to_string(event + 1) + ' ' + what));
    }

    std::string take_digest() {
        return content_digest(digested < written.size() ? digest_of(*samples) : digest.finish(), info);
    }

    std::string name;
    RecordingInfo info;
    AtomicFile file;
    Hdf5Writer writer;
    std::optional<Hdf5Slabs> samples;
    std::vector<bool> written;
    BackgroundDigest digest;   ///< of the first `digested` events
    std::size_t digested = 0;  ///< all, where they came once each and in order
};

RecordingWriter::RecordingWriter(const std::filesystem::path& path, RecordingInfo info)
    : state_(std::make_unique<State>(path, std::move(info))) {}

RecordingWriter::~RecordingWriter() = default;
RecordingWriter::RecordingWriter(RecordingWriter&&) noexcept = default;
RecordingWriter& RecordingWriter::operator=(RecordingWriter&&) noexcept = default;

void RecordingWriter::write_event(std::size_t event, std::span<const float> samples) {
    if (event < state_->written.size() && state_->written[event]) {
        state_->fail(event, "was written twice");
    }
    state_->samples->write(event, samples);
    state_->written[event] = true;
    if (event == state_->digested) {
        state_->digest.update(std::as_bytes(samples));
        ++state_->digested;
    }
}

void RecordingWriter::read_event(std::size_t event, std::span<float> samples) {
    state_->samples->read(event, samples);
}

void RecordingWriter::rewrite_event(std::size_t event, std::span<const float> samples) {
    state_->samples->write(event, samples);
    state_->written[event] = true;
    state_->digested = 0;
}

std::string RecordingWriter::finish() {
    const auto missing = std::ranges::find(state_->written, false);
    if (missing != state_->written.end()) {
        state_->fail(static_cast<std::size_t>(missing - state_->written.begin()), "was never written");
    }
    std::string digest = state_->take_digest();
    state_->samples->close();
    state_->writer.attribute("/", "content_digest", digest);
    write_complete(state_->writer);
    state_->writer.close();
    state_->file.commit();
    return digest;
}

}  // namespace echoloom
