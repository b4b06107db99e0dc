// Recordings against a plain HDF5 loop on the same chunks with the same checksums.

#include <fcntl.h>
#include <hdf5.h>
#include <unistd.h>

#include <array>
#include <numeric>

#include "sim/base/error.h"
#include "sim/recording/recording_reader.h"
#include "sim/recording/recording_writer.h"
#include "tests/benchmark/workloads.h"

namespace echoloom::benchmark {

namespace {

using Extents = std::array<hsize_t, 3>;

void require(bool done) {
    if (!done) {
        throw MachineError("the plain HDF5 loop was refused");
    }
}

/// What anyone would write: one dataset, an event a chunk, Fletcher32, and the file on the disk when it is done.
void write_plainly(const std::filesystem::path& path, const RecordingInfo& info, const std::vector<float>& samples) {
    const Extents extents{info.events.size(), info.channels, info.samples};
    const Extents chunk{1, info.channels, info.samples};
    const hid_t file = H5Fcreate(path.c_str(), H5F_ACC_TRUNC, H5P_DEFAULT, H5P_DEFAULT);
    const hid_t creation = H5Pcreate(H5P_DATASET_CREATE);
    require(H5Pset_chunk(creation, 3, chunk.data()) >= 0 && H5Pset_fletcher32(creation) >= 0);
    const hid_t space = H5Screate_simple(3, extents.data(), nullptr);
    const hid_t memory = H5Screate_simple(3, chunk.data(), nullptr);
    const hid_t dataset = H5Dcreate2(file, "rf", H5T_IEEE_F32LE, space, H5P_DEFAULT, creation, H5P_DEFAULT);
    for (hsize_t event = 0; event < extents[0]; ++event) {
        const Extents start{event, 0, 0};
        require(H5Sselect_hyperslab(space, H5S_SELECT_SET, start.data(), nullptr, chunk.data(), nullptr) >= 0);
        require(H5Dwrite(dataset, H5T_NATIVE_FLOAT, memory, space, H5P_DEFAULT,
                         samples.data() + event * chunk[1] * chunk[2]) >= 0);
    }
    require(H5Dclose(dataset) >= 0 && H5Sclose(memory) >= 0 && H5Sclose(space) >= 0 && H5Pclose(creation) >= 0);
    require(H5Fclose(file) >= 0);
    const int descriptor = open(path.c_str(), O_RDONLY);
    require(fsync(descriptor) == 0 && close(descriptor) == 0);
}

void read_plainly(const std::filesystem::path& path, const RecordingInfo& info, std::vector<float>& event_samples) {
    const Extents chunk{1, info.channels, info.samples};
    const hid_t file = H5Fopen(path.c_str(), H5F_ACC_RDONLY, H5P_DEFAULT);
    const hid_t dataset = H5Dopen2(file, "rf", H5P_DEFAULT);
    const hid_t space = H5Dget_space(dataset);
    const hid_t memory = H5Screate_simple(3, chunk.data(), nullptr);
    for (hsize_t event = 0; event < info.events.size(); ++event) {
        const Extents start{event, 0, 0};
        require(H5Sselect_hyperslab(space, H5S_SELECT_SET, start.data(), nullptr, chunk.data(), nullptr) >= 0);
        require(H5Dread(dataset, H5T_NATIVE_FLOAT, memory, space, H5P_DEFAULT, event_samples.data()) >= 0);
    }
    require(H5Sclose(memory) >= 0 && H5Sclose(space) >= 0 && H5Dclose(dataset) >= 0 && H5Fclose(file) >= 0);
}

void add(Bench& bench, const std::string& stage, const std::string& words, const std::vector<double>& ours,
         const std::vector<double>& plain, double bytes, std::optional<double> goal) {
    const Spread share = ratio(plain, ours);
    Row row{.group = "files",
            .stage = stage,
            .workload = words,
            .value = share,
            .rate = in_words(bytes / spread(ours).median * 1e-9, "GB/s") + " of " +
                    in_words(bytes / spread(plain).median * 1e-9, "GB/s")};
    if (goal && !bench.options.quick) {
        row.goal = at_least(*goal);
    }
    bench.report.add(std::move(row));
}

}  // namespace

void measure_files(Bench& bench) {
    const ImageScene scene = load_image_scene(bench, image_workloads().back(), "linear");
    const RecordingInfo& info = scene.info;
    const std::filesystem::path ours = bench.temporary / "ours.h5";
    const std::filesystem::path plain = bench.temporary / "plain.h5";
    const std::size_t event_values = info.channels * info.samples;
    std::vector<float> event_samples(event_values);
    const std::vector<Work> works{
        [&] { return seconds_of([&] { write_plainly(plain, info, scene.samples); }); },
        [&] {
            return seconds_of([&] {
                RecordingWriter writer(ours, info);
                for (std::size_t event = 0; event < info.events.size(); ++event) {
                    writer.write_event(event, std::span(scene.samples).subspan(event * event_values, event_values));
                }
                writer.finish();
            });
        },
        [&] { return seconds_of([&] { read_plainly(plain, info, event_samples); }); },
        [&] {
            return seconds_of([&] {
                RecordingReader reader(ours);
                for (std::size_t event = 0; event < info.events.size(); ++event) {
                    reader.read_event(event, event_samples);
                }
            });
        },
        [&] {
            return seconds_of([&] {
                RecordingReader reader(ours);
                if (!reader.verify()) {
                    throw MachineError("a recording does not have the digest it was written with");
                }
            });
        }};
    const auto seconds = in_turns(works, bench.rounds(7), true);
    const double bytes = 4.0 * static_cast<double>(scene.samples.size());
    const std::string words = std::to_string(info.events.size()) + " events of " +
                              in_words(4.0 * static_cast<double>(event_values) / 1024.0, "KiB");
    add(bench, "recording written, of plain HDF5", words, seconds[1], seconds[0], bytes, 0.7);
    add(bench, "recording read, of plain HDF5", words, seconds[3], seconds[2], bytes, 0.7);
    add(bench, "digest verified, of plain HDF5 read", words, seconds[4], seconds[2], bytes, {});
}

}  // namespace echoloom::benchmark
