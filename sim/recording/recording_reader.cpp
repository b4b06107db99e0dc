#include "sim/recording/recording_reader.h"

#include <algorithm>
#include <cmath>
#include <utility>
#include <vector>

#include "sim/recording/groups.h"
#include "sim/recording/tables.h"

namespace echoloom {

namespace {

const std::string samples_path = "/channel_data/rf";

RecordingInfo read_info(const Hdf5Reader& file) {
    check_format(file, recording_format);
    RecordingInfo info = read_groups(file, "");
    info.content_digest = file.text_attribute("/", "content_digest").value_or("");
    info.program_version = file.text_attribute("/", "program_version").value_or("");
    return info;
}

Hdf5Slabs open_samples(const Hdf5Reader& file, RecordingInfo& info) {
    Hdf5Slabs samples =
        file.slabs(samples_path, {{info.events.size(), info.channels, any_extent}, "[event, channel, sample]"});
    info.samples = samples.shape().back();
    if (info.samples == 0) {
        file.fail(samples_path, "holds no samples");
    }
    return samples;
}

}  // namespace

struct RecordingReader::State {
    explicit State(const std::filesystem::path& path)
        : file(path), info(read_info(file)), samples(open_samples(file, info)) {}

    Hdf5Reader file;
    RecordingInfo info;
    Hdf5Slabs samples;
};

RecordingReader::RecordingReader(const std::filesystem::path& path) : state_(std::make_unique<State>(path)) {}
RecordingReader::~RecordingReader() = default;
RecordingReader::RecordingReader(RecordingReader&&) noexcept = default;
RecordingReader& RecordingReader::operator=(RecordingReader&&) noexcept = default;

const RecordingInfo& RecordingReader::info() const {
    return state_->info;
}

void RecordingReader::read_event(std::size_t event, std::span<float> samples) {
    state_->samples.read(event, samples);
    const auto found = std::ranges::find_if(samples, [](float value) { return !std::isfinite(value); });
    if (found != samples.end()) {
        const auto place = static_cast<std::size_t>(found - samples.begin());
        state_->file.fail(samples_path, "event " + std::to_string(event) + ", channel " +
                                            std::to_string(place / state_->info.samples) + ", sample " +
                                            std::to_string(place % state_->info.samples) +
                                            " is not a finite number; give finite samples");
    }
}

bool RecordingReader::verify() {
    Sha256 digest;
    std::vector<float> samples(state_->samples.slab_size());
    for (std::size_t event = 0; event < state_->info.events.size(); ++event) {
        state_->samples.read(event, samples);
        digest.update(std::as_bytes(std::span(samples)));
    }
    return content_digest(std::move(digest), state_->info) == state_->info.content_digest;
}

}  // namespace echoloom
