#include "sim/recording/recording_reader.h"

#include <algorithm>
#include <bit>
#include <cmath>
#include <cstdint>
#include <utility>
#include <vector>

#include "sim/recording/groups.h"
#include "sim/recording/sample_digest.h"
#include "sim/recording/tables.h"

namespace echoloom {

namespace {

const std::string samples_path = "/receive/rf";

RecordingInfo read_info(const Hdf5Reader& file) {
    check_format(file, recording_format);
    RecordingInfo info = read_groups(file, "");
    info.content_digest = file.text_attribute("/", "content_digest").value_or("");
    info.program_version = file.text_attribute("/", "program_version").value_or("");
    return info;
}

/// By the bits of the exponent, and to the end whatever it meets, so that the compiler can take many samples at once.
bool all_finite(std::span<const float> samples) {
    constexpr std::uint32_t exponent = 0x7f800000U;
    std::uint32_t endless = 0;
    for (const float value : samples) {
        endless |= static_cast<std::uint32_t>((std::bit_cast<std::uint32_t>(value) & exponent) == exponent);
    }
    return endless == 0;
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
    if (!all_finite(samples)) {
        const auto found = std::ranges::find_if(samples, [](float value) { return !std::isfinite(value); });
        const auto place = static_cast<std::size_t>(found - samples.begin());
        state_->file.fail(samples_path, "entry " + std::to_string(event) + ", " +
                                            std::to_string(place / state_->info.samples) + ", " +
                                            std::to_string(place % state_->info.samples) +
                                            " is not a finite number; give finite samples");
    }
}

bool RecordingReader::verify() {
    return content_digest(digest_of(state_->samples), state_->info) == state_->info.content_digest;
}

}  // namespace echoloom
