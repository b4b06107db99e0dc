#include <gtest/gtest.h>

#include <functional>

#include "sim/recording/groups.h"
#include "sim/recording/recording_writer.h"
#include "sim/recording/tables.h"
#include "tests/base/message.h"
#include "tests/base/temporary_folder.h"
#include "tests/recording/sample.h"

namespace echoloom::recording_tests {
namespace {

void expect_same_tables(const std::vector<Table>& read, const std::vector<Table>& written) {
    ASSERT_EQ(read.size(), written.size());
    for (std::size_t i = 0; i < read.size(); ++i) {
        EXPECT_EQ(read[i].shape, written[i].shape) << written[i].path;
        if (written[i].path == "/transmit/focus_m") {
            continue;  // holds NaN; compared bit by bit in the fingerprint
        }
        EXPECT_EQ(read[i].values, written[i].values) << written[i].path;
    }
}

void expect_kept(const Sample& sample) {
    const TemporaryFolder folder;
    const std::string digest = write(sample, folder / "small.h5");
    EXPECT_EQ(digest.substr(0, 7), "sha256:");
    EXPECT_EQ(digest.size(), 7U + 64U);

    RecordingReader reader(folder / "small.h5");
    RecordingInfo expected = sample.info;
    expected.content_digest = digest;
    expected.program_version = program_version();
    expect_same_tables(geometry_tables(reader.info()), geometry_tables(expected));
    expect_same_tables(background_tables(reader.info()), background_tables(expected));
    EXPECT_EQ(fingerprint(folder / "small.h5"), fingerprint(expected, sample.events));
    EXPECT_EQ(reader.info().probe.source, sample.info.probe.source);
    EXPECT_TRUE(reader.verify());
    EXPECT_EQ(folder.names(), std::vector<std::string>{"small.h5"});
}

TEST(RoundTrip, KeepsEveryBit) {
    expect_kept(small_sample());
}

TEST(RoundTrip, KeepsWhatOnlySomeArraysHave) {
    for (const Sample& sample : {curved_sample(), rows_sample(), swept_sample()}) {
        SCOPED_TRACE(sample.info.probe.kind);
        expect_kept(sample);
    }
    const TemporaryFolder folder;
    write(curved_sample(), folder / "curved.h5");
    const RecordingInfo curved = RecordingReader(folder / "curved.h5").info();
    EXPECT_EQ(curved.probe.radius_m, 0.0612345);
    EXPECT_EQ(curved.scan_depth_m, 0.123456);
    EXPECT_FALSE(curved.head.has_value());
    write(rows_sample(), folder / "rows.h5");
    const RecordingInfo rows = RecordingReader(folder / "rows.h5").info();
    EXPECT_EQ(rows.probe.rows, 2);
    EXPECT_EQ(rows.events[1].kind, TransmitKind::diverging);
    EXPECT_EQ(rows.events[1].focus_m, Vec3(1e-3, 0.0, -0.0123));
    EXPECT_FALSE(rows.scan_depth_m.has_value());
    write(swept_sample(), folder / "swept.h5");
    const RecordingInfo swept = RecordingReader(folder / "swept.h5").info();
    EXPECT_EQ(swept.probe.elements[3].inner_m, swept_sample().info.probe.elements[3].inner_m);
    EXPECT_EQ(swept.probe.elements[3].outer_m, swept_sample().info.probe.elements[3].outer_m);
    EXPECT_EQ(swept.head.value().axis_to_face_m, 0.0081234);
    EXPECT_EQ(swept.head.value().rotation_rate_rad_s, 314.159);
    EXPECT_EQ(swept.events[2].head_angle_rad, 0.1);
}

TEST(RoundTrip, TwoWritesAreTheSameBytes) {
    const TemporaryFolder folder;
    write(small_sample(), folder / "one.h5");
    write(small_sample(), folder / "two.h5");
    EXPECT_EQ(folder.read("one.h5"), folder.read("two.h5"));
}

TEST(RoundTrip, DigestDoesNotDependOnTheOrderOfWriting) {
    const TemporaryFolder folder;
    const Sample sample = small_sample();
    const std::string digest = write(sample, folder / "in_order.h5");

    RecordingWriter writer(folder / "shuffled.h5", sample.info);
    const std::vector<float> wrong(sample.events[0].size(), 9.0F);
    writer.write_event(2, sample.events[2]);
    writer.write_event(0, wrong);
    writer.write_event(1, sample.events[1]);
    std::vector<float> back(wrong.size());
    writer.read_event(2, back);
    EXPECT_EQ(back, sample.events[2]);
    writer.rewrite_event(0, sample.events[0]);
    EXPECT_EQ(writer.finish(), digest);
    EXPECT_EQ(fingerprint(folder / "shuffled.h5"), fingerprint(folder / "in_order.h5"));
}

TEST(RoundTrip, RewritingInOrderChangesTheDigest) {
    const TemporaryFolder folder;
    Sample sample = small_sample();
    RecordingWriter writer(folder / "rewritten.h5", sample.info);
    for (std::size_t event = 0; event < sample.events.size(); ++event) {
        writer.write_event(event, sample.events[event]);
    }
    sample.events[1][7] += 1.0F;
    writer.rewrite_event(1, sample.events[1]);
    EXPECT_EQ(writer.finish(), write(sample, folder / "direct.h5"));
    EXPECT_TRUE(RecordingReader(folder / "rewritten.h5").verify());
}

TEST(RoundTrip, DigestSeesSamplesAndGeometryButNotNames) {
    const TemporaryFolder folder;
    const std::string digest = write(small_sample(), folder / "a.h5");
    Sample moved = small_sample();
    moved.info.probe.elements[5].center_m.x() += 1e-9;
    Sample later = small_sample();
    later.info.events[2].start_time_s += 1e-12;
    Sample louder = small_sample();
    louder.events[2].back() *= 2.0F;
    Sample renamed = small_sample();
    renamed.info.probe.name = "another";
    EXPECT_NE(write(moved, folder / "b.h5"), digest);
    EXPECT_NE(write(later, folder / "b.h5"), digest);
    EXPECT_NE(write(louder, folder / "b.h5"), digest);
    EXPECT_EQ(write(renamed, folder / "b.h5"), digest);
}

TEST(RoundTrip, DigestSeesWhatOnlySomeArraysHave) {
    const TemporaryFolder folder;
    const auto changed = [&](Sample sample, const std::function<void(RecordingInfo&)>& change) {
        const std::string digest = write(sample, folder / "a.h5");
        change(sample.info);
        return write(sample, folder / "b.h5") != digest;
    };
    EXPECT_TRUE(changed(curved_sample(), [](RecordingInfo& info) { info.probe.radius_m += 1e-12; }));
    EXPECT_TRUE(changed(curved_sample(), [](RecordingInfo& info) { info.scan_depth_m = 0.2; }));
    EXPECT_TRUE(changed(curved_sample(), [](RecordingInfo& info) { info.scan_depth_m.reset(); }));
    EXPECT_TRUE(changed(rows_sample(), [](RecordingInfo& info) { info.probe.rows = 4; }));
    EXPECT_TRUE(changed(rows_sample(), [](RecordingInfo& info) { info.events[1].kind = TransmitKind::plane; }));
    EXPECT_TRUE(changed(swept_sample(), [](RecordingInfo& info) { info.probe.elements[2].inner_m += 1e-12; }));
    EXPECT_TRUE(changed(swept_sample(), [](RecordingInfo& info) { info.head->axis_to_face_m += 1e-12; }));
    EXPECT_TRUE(changed(swept_sample(), [](RecordingInfo& info) { info.head->rotation_rate_rad_s = 0.0; }));
    EXPECT_TRUE(changed(swept_sample(), [](RecordingInfo& info) { info.events[1].head_angle_rad += 1e-12; }));
    EXPECT_FALSE(changed(swept_sample(), [](RecordingInfo& info) { info.probe.name = "another"; }));
}

TEST(RoundTrip, NothingToAimAtIsFine) {
    const TemporaryFolder folder;
    Sample sample = small_sample();
    sample.info.truth = {};
    sample.info.source = {};
    sample.info.probe.source.clear();
    sample.info.probe.pulse = GaussianPulse{sample.info.probe.center_Hz, sample.info.probe.bandwidth_fraction};
    write(sample, folder / "bare.h5");
    const RecordingReader reader(folder / "bare.h5");
    EXPECT_TRUE(reader.info().truth.points.empty());
    EXPECT_TRUE(reader.info().truth.regions.empty());
    EXPECT_TRUE(reader.info().source.phantom.empty());
    const auto& pulse = std::get<GaussianPulse>(reader.info().probe.pulse);
    EXPECT_EQ(pulse.center_Hz, sample.info.probe.center_Hz);
    EXPECT_EQ(pulse.bandwidth_fraction, sample.info.probe.bandwidth_fraction);
}

TEST(RoundTrip, ReplacesAnOlderFileWholeOrNotAtAll) {
    const TemporaryFolder folder;
    folder.write("kept.h5", "older");
    {
        RecordingWriter writer(folder / "kept.h5", small_sample().info);
        writer.write_event(0, small_sample().events[0]);
    }
    EXPECT_EQ(folder.read("kept.h5"), "older");
    EXPECT_EQ(folder.names(), std::vector<std::string>{"kept.h5"});
    write(small_sample(), folder / "kept.h5");
    EXPECT_TRUE(RecordingReader(folder / "kept.h5").verify());
}

TEST(RoundTrip, AWriterHoldsItsCallerToItsWord) {
    const TemporaryFolder folder;
    const std::string name = (folder / "x.h5").string();
    const Sample sample = small_sample();
    EXPECT_EQ(message_of([&] {
                  RecordingWriter writer(name, sample.info);
                  writer.write_event(0, sample.events[0]);
                  writer.write_event(2, sample.events[2]);
                  writer.finish();
              }),
              "3 " + name + ": event 2 was never written");
    EXPECT_EQ(message_of([&] {
                  RecordingWriter writer(name, sample.info);
                  writer.write_event(0, sample.events[0]);
                  writer.write_event(0, sample.events[0]);
              }),
              "3 " + name + ": event 1 was written twice");
    EXPECT_EQ(message_of([&] {
                  RecordingWriter writer(name, sample.info);
                  writer.write_event(3, sample.events[0]);
              }),
              "3 " + name + ": /receive/rf: asked for entry 3 with 100 values; there are 3 entries of 100");
    EXPECT_EQ(message_of([&] {
                  RecordingInfo info = sample.info;
                  info.events[1].delay_s.pop_back();
                  const RecordingWriter writer(name, info);
              }),
              "3 " + name + ": /transmit/delay_s: cannot write 23 values as 3 x 8: its parts disagree");
    EXPECT_TRUE(folder.names().empty());
}

TEST(RoundTrip, MoreThanTheDiskHoldsIsRefusedBeforeTheWork) {
    const TemporaryFolder folder;
    Sample sample = small_sample();
    sample.info.samples = 200'000'000;
    sample.info.events.resize(20'000, sample.info.events[0]);
    const std::string message = message_of([&] { const RecordingWriter writer(folder / "huge.h5", sample.info); });
    EXPECT_NE(message.find("huge.h5: the recording takes 58.2 TiB, and the disk has "), std::string::npos) << message;
    sample.info.samples = 300'000'000;
    EXPECT_NE(message_of([&] {
                  const RecordingWriter writer(folder / "huge.h5", sample.info);
              }).find("one event would take 4.5 GiB"),
              std::string::npos);
    EXPECT_TRUE(folder.names().empty());
}

}  // namespace
}  // namespace echoloom::recording_tests
