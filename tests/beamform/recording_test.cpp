/// A recording read from its file gives the same bits as the same samples in memory.

#include <gtest/gtest.h>

#include "recon/beamform/beamform.h"
#include "sim/recording/recording_writer.h"
#include "tests/base/temporary_folder.h"
#include "tests/beamform/synthetic.h"

namespace echoloom {
namespace {

using namespace echoloom::testing;

void expect_same_from_file(Synthetic recording) {
    for (std::size_t e = 0; e < recording.samples.size(); ++e) {
        for (std::size_t i = 0; i < recording.samples[e].size(); ++i) {
            recording.samples[e][i] = static_cast<float>(noise(100000 * e + i));
        }
    }
    const TemporaryFolder folder;
    RecordingWriter writer(folder / "r.h5", recording.info);
    for (std::size_t e = 0; e < recording.samples.size(); ++e) {
        writer.write_event(e, recording.samples[e]);
    }
    writer.finish();
    RecordingReader reader(folder / "r.h5");
    Recipe recipe;
    recipe.aperture = ApertureMode::growing;
    recipe.f_number = 1.5;
    const Beamformed from_file = beamform(reader, recipe, true);
    const Beamformed from_memory = beamform(recording.info, recording.reader(), recipe);
    EXPECT_EQ(from_file.real, from_memory.real);
    EXPECT_EQ(from_file.imaginary, from_memory.imaginary);
}

TEST(FromFile, LinesAreTheSameBits) {
    expect_same_from_file(
        line_recording(flat_probe(24, 0.3e-3, 5e6, 0.6), {Vec3::Zero(), Vec3(1e-3, 0, 0)}, Vec3::UnitZ(), 16, 700));
}

TEST(FromFile, FullMatrixIsTheSameBits) {
    expect_same_from_file(full_matrix_recording(flat_probe(12, 0.3e-3, 5e6, 0.6), 700));
}

}  // namespace
}  // namespace echoloom
