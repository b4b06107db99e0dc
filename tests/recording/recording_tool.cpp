/// What the Python tests ask of the reader and the writers, as a program.
///
///     recording_tool write FILE          a small recording
///     recording_tool write_image FILE    a small image
///     recording_tool write_large FILE    a recording larger than HDF5 keeps in memory
///     recording_tool write_on FILE       the same over and over, never finished
///     recording_tool values FILE         what the reader takes from a recording, one "name value" a line
///     recording_tool brightest FILE      where the default reconstruction of a recording is brightest, in metres

#include <algorithm>
#include <cstdio>
#include <iostream>

#include "recon/image/image.h"
#include "sim/recording/recording_writer.h"
#include "sim/recording/tables.h"
#include "tests/recording/sample.h"

namespace echoloom::recording_tests {
namespace {

void print_values(const std::string& path) {
    RecordingReader reader(path);
    const RecordingInfo& info = reader.info();
    Sha256 digest;
    std::vector<float> samples(info.channels * info.samples);
    for (std::size_t event = 0; event < info.events.size(); ++event) {
        reader.read_event(event, samples);
        digest.update(std::as_bytes(std::span(samples)));
    }
    std::cout << "events " << info.events.size() << "\nchannels " << info.channels << "\nsamples " << info.samples
              << "\nelements " << info.probe.elements.size() << "\npoints " << info.truth.points.size() << "\nregions "
              << info.truth.regions.size() << "\nsource " << info.source.phantom.size() << "\ncarried "
              << (info.content_digest.empty() ? "none" : info.content_digest) << "\ncomputed "
              << content_digest(std::move(digest), info) << "\nverified " << reader.verify() << '\n';
}

void print_brightest(const std::string& path) {
    RecordingReader reader(path);
    const Recipe recipe;
    const Image image = form_image(beamform(reader, recipe, true), recipe, reader.info());
    const auto brightest = static_cast<std::size_t>(std::ranges::max_element(image.envelope) - image.envelope.begin());
    const std::size_t column = brightest / image.depths;
    const std::size_t depth = brightest % image.depths;
    if (const auto* lines = std::get_if<LineGrid>(&image.grid)) {
        const Vec3 place = lines->origin_m[column] + lines->depth_m[depth] * lines->direction[column];
        std::printf("%.6f %.6f\n", place.x(), place.z());
    } else {
        const auto& grid = std::get<CartesianGrid>(image.grid);
        std::printf("%.6f %.6f\n", grid.x_m[column], grid.depth_m[depth]);
    }
}

Sample large_sample() {
    Sample sample = small_sample();
    sample.info.samples = 250'000;
    for (auto& event : sample.events) {
        event.assign(sample.info.channels * sample.info.samples, 1.0F);
    }
    return sample;
}

[[noreturn]] void write_on(const std::string& path) {
    const Sample sample = large_sample();
    RecordingWriter writer(path, sample.info);
    for (std::size_t event = 0;; event = (event + 1) % sample.events.size()) {
        writer.rewrite_event(event, sample.events[event]);
        std::cout << event << std::endl;
    }
}

void write_small_image(const std::string& path) {
    Image image;
    image.grid = CartesianGrid{{-1e-3, 0.0, 1e-3}, {0.01, 0.02}};
    image.columns = 3;
    image.depths = 2;
    image.envelope = {0.0F, 1.0F, 2.0F, 3.0F, 4.0F, 5.0F};
    image.real = image.envelope;
    image.imaginary = image.envelope;
    image.recipe.name = "small";
    image.recipe.source = "# nothing\n";
    image.sound_speed_m_s = 1540.0;
    image.recording = small_sample().info;
    image.recording.content_digest = "sha256:0123";
    write_image(path, image);
}

void run(const std::string& command, const std::string& path) {
    if (command == "write") {
        write(small_sample(), path);
    } else if (command == "write_image") {
        write_small_image(path);
    } else if (command == "write_large") {
        write(large_sample(), path);
    } else if (command == "write_on") {
        write_on(path);
    } else if (command == "values") {
        print_values(path);
    } else {
        print_brightest(path);
    }
}

}  // namespace
}  // namespace echoloom::recording_tests

int main(int count, char** words) {
    if (count != 3) {
        std::cerr << "error: give a command and a file\n";
        return 2;
    }
    try {
        echoloom::recording_tests::run(words[1], words[2]);
    } catch (const echoloom::Error& error) {
        std::cerr << "error: " << error.what() << '\n';
        return error.exit_code();
    } catch (const std::exception& error) {
        std::cerr << "unexpected: " << error.what() << '\n';
        return 1;
    }
    return 0;
}
