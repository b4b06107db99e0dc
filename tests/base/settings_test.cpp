#include "sim/base/settings.h"

#include <gtest/gtest.h>

#include <array>

#include "tests/base/message.h"
#include "tests/base/temporary_folder.h"

namespace echoloom {
namespace {

Settings from(const std::string& text, std::vector<Override> overrides = {}) {
    return Settings::from_text(text, "probe.toml", overrides);
}

TEST(Settings, ReadsEveryKindOfValue) {
    auto settings = from(
        "a = 1.5\nb = 3\nc = true\nd = 'word'\ne = [1, 2.5]\nf = 7\n"
        "[table]\nx = 1\n[[row]]\nx = 1\n[[row]]\nx = 2\n");
    EXPECT_EQ(settings.number("a"), 1.5);
    EXPECT_EQ(settings.number("b"), 3.0);
    EXPECT_EQ(settings.integer("b", 0, 5), 3);
    EXPECT_TRUE(settings.flag_or("c", false));
    EXPECT_EQ(settings.text("d"), "word");
    EXPECT_EQ(settings.numbers("e"), (std::vector<double>{1.0, 2.5}));
    EXPECT_EQ(settings.numbers("f"), std::vector<double>{7.0});
    EXPECT_EQ(settings.table("table").number("x"), 1.0);
    std::vector<double> rows;
    for (Settings& row : settings.tables("row")) {
        rows.push_back(row.number("x"));
    }
    EXPECT_EQ(rows, (std::vector<double>{1.0, 2.0}));
    EXPECT_EQ(settings.number_or("absent", 9.0), 9.0);
    EXPECT_EQ(settings.number_if("absent"), std::nullopt);
    EXPECT_EQ(settings.table_if("absent_table").has_value(), false);
    EXPECT_TRUE(settings.tables("absent_rows").empty());
    EXPECT_NO_THROW(settings.finish());
}

TEST(Settings, RefusesAnUnknownKeyAndSuggestsTheNearest) {
    EXPECT_EQ(message_of([] {
                  auto settings = from("elements = 64\npich_mm = 0.3\n");
                  settings.number("elements");
                  settings.number_or("pitch_mm", 0.3);
                  settings.finish();
              }),
              "2 probe.toml:2: pich_mm: unknown key, did you mean 'pitch_mm'?");
}

TEST(Settings, SuggestsTheUnitThatWasLeftOut) {
    EXPECT_EQ(message_of([] {
                  auto settings = from("elevation_focus = 40\n");
                  settings.number_if("elevation_focus_mm");
                  settings.finish();
              }),
              "2 probe.toml:1: elevation_focus: unknown key, did you mean 'elevation_focus_mm'?");
}

TEST(Settings, TellsAMisspeltRequiredKeyFromAMissingOne) {
    EXPECT_EQ(message_of([] {
                  auto settings = from("elements = 64\npich_mm = 0.3\n");
                  settings.integer("elements", 1, 1024);
                  settings.number("pitch_mm", positive());
              }),
              "2 probe.toml:2: pich_mm: unknown key, did you mean 'pitch_mm'?");
    EXPECT_EQ(message_of([] { from("[mediun]\nx = 1\n").table("medium"); }),
              "2 probe.toml:1: mediun: unknown key, did you mean 'medium'?");
    EXPECT_EQ(message_of([] {
                  auto settings = from("width_mm = 0.27\n");
                  settings.number("width_mm");
                  settings.number("widths_mm");
              }),
              "2 probe.toml: widths_mm: missing; give a number, in mm")
        << "a key that was asked for is not misspelt";
}

TEST(Settings, ListsTheKnownKeysWhereNoneIsNear) {
    EXPECT_EQ(message_of([] {
                  auto settings = from("colour = 'red'\n");
                  settings.number_or("pitch_mm", 0.3);
                  settings.number_or("elements", 64);
                  settings.finish();
              }),
              "2 probe.toml:1: colour: unknown key, choose from elements, pitch_mm");
}

TEST(Settings, NamesTheDottedPathOfAnUnknownKeyBelowTheTop) {
    EXPECT_EQ(message_of([] {
                  auto settings = from("[[row]]\nx = 1\n\n[[row]]\nx = 1\ny = 2\n");
                  for (Settings& row : settings.tables("row")) {
                      row.number("x");
                  }
                  settings.finish();
              }),
              "2 probe.toml:6: row.1.y: unknown key, choose from x");
    EXPECT_EQ(message_of([] {
                  auto settings = from("a = 1\n[fault]\ndead = [1]\n");
                  settings.number("a");
                  settings.table_if("faults");
                  settings.finish();
              }),
              "2 probe.toml:2: fault: unknown key, did you mean 'faults'?");
}

TEST(Settings, RefusesATableThatWasOnlyAskedForAndNeverRead) {
    EXPECT_EQ(message_of([] {
                  auto settings = from("[faults]\ndead = [1]\n");
                  settings.has("faults");
                  settings.finish();
              }).substr(0, 36),
              "2 probe.toml:1: faults: unknown key,");
}

TEST(Settings, ReportsTheFirstOfSeveralUnknownKeys) {
    EXPECT_EQ(message_of([] {
                  auto settings = from("zebra = 1\naardvark = 2\n");
                  settings.number_or("pitch_mm", 0.3);
                  settings.finish();
              }),
              "2 probe.toml:1: zebra: unknown key, choose from pitch_mm");
}

TEST(Settings, SaysWhatAMissingKeyShouldHold) {
    EXPECT_EQ(message_of([] { from("a = 1\n").number("center_MHz", positive(50)); }),
              "2 probe.toml: center_MHz: missing; give a number more than 0 and at most 50, in MHz");
    EXPECT_EQ(
        message_of([] { from("a = 1\n[medium]\n").table("medium").number("sound_speed_m_s", between(300, 8000)); }),
        "2 probe.toml:2: medium.sound_speed_m_s: missing; give a number from 300 to 8000, in m/s");
    EXPECT_EQ(message_of([] { from("").integer("elements", 1, 1024); }),
              "2 probe.toml: elements: missing; give a whole number from 1 to 1024");
    EXPECT_EQ(message_of([] { from("").text("title"); }), "2 probe.toml: title: missing; give a text in quotes");
    EXPECT_EQ(message_of([] { from("").table("medium"); }), "2 probe.toml: medium: missing; write a table [medium]");
    EXPECT_EQ(message_of([] { from("").numbers("center_mm", {}, 3); }),
              "2 probe.toml: center_mm: missing; give a list of 3 numbers, each a number, in mm");
}

TEST(Settings, RefusesTheWrongKindOfValue) {
    EXPECT_EQ(message_of([] { from("\npitch_mm = 'wide'\n").number("pitch_mm", positive()); }),
              "2 probe.toml:2: pitch_mm: is the text \"wide\"; give a number more than 0, in mm");
    EXPECT_EQ(message_of([] { from("elements = 1.5\n").integer("elements", 1, 4); }),
              "2 probe.toml:1: elements: is 1.5; give a whole number from 1 to 4");
    EXPECT_EQ(message_of([] { from("flag = 1\n").flag_or("flag", true); }),
              "2 probe.toml:1: flag: is 1; give true or false");
    EXPECT_EQ(message_of([] { from("title = [1]\n").text("title"); }),
              "2 probe.toml:1: title: is a list; give a text in quotes");
    EXPECT_EQ(message_of([] { from("medium = 3\n").table("medium"); }),
              "2 probe.toml:1: medium: is 3; write a table [medium]");
    EXPECT_EQ(message_of([] { from("[row]\nx = 1\n").tables("row"); }),
              "2 probe.toml:1: row: is a table; write each as [[row]]");
}

TEST(Settings, RefusesNumbersThatAreNoNumbersOrOutOfRange) {
    EXPECT_EQ(message_of([] { from("pitch_mm = nan\n").number("pitch_mm"); }),
              "2 probe.toml:1: pitch_mm: is not a number (nan); give a number, in mm");
    EXPECT_EQ(message_of([] { from("pitch_mm = inf\n").number("pitch_mm", positive()); }),
              "2 probe.toml:1: pitch_mm: is inf; give a number more than 0, in mm");
    EXPECT_EQ(message_of([] { from("pitch_mm = -0.3\n").number("pitch_mm", positive()); }),
              "2 probe.toml:1: pitch_mm: is -0.3; give a number more than 0, in mm");
    EXPECT_EQ(message_of([] { from("elements = 0\n").integer("elements", 1, 1024); }),
              "2 probe.toml:1: elements: is 0; give a whole number from 1 to 1024");
    EXPECT_EQ(from("contrast_dB = -inf\n").number("contrast_dB", Range{-no_limit, 40.0, false, true}), -no_limit);
}

TEST(Settings, NamesTheEntryOfAListThatIsWrong) {
    EXPECT_EQ(message_of([] { from("angles_deg = [\n  0,\n  95,\n]\n").numbers("angles_deg", between(-60, 60)); }),
              "2 probe.toml:3: angles_deg: entry 1 is 95; give a number from -60 to 60, in degrees");
    EXPECT_EQ(message_of([] { from("center_mm = [0, 1]\n").numbers("center_mm", {}, 3); }),
              "2 probe.toml:1: center_mm: holds 2 numbers; give a list of 3 numbers, each a number, in mm");
}

TEST(Settings, ListsTheAllowedWordsAndSuggestsTheNearest) {
    constexpr std::array<std::string_view, 2> baffles = {"rigid", "soft"};
    EXPECT_EQ(message_of([&] { from("baffle = 'rigit'\n").one_of("baffle", baffles); }),
              "2 probe.toml:1: baffle: is the text \"rigit\"; give one of \"rigid\", \"soft\"; did you mean 'rigid'?");
    EXPECT_EQ(message_of([&] { from("baffle = 3\n").one_of("baffle", baffles); }),
              "2 probe.toml:1: baffle: is 3; give one of \"rigid\", \"soft\"");
    EXPECT_EQ(from("").one_of_or("baffle", "soft", baffles), "soft");
}

TEST(Settings, GivesLineAndReasonForBadToml) {
    EXPECT_EQ(message_of([] { from("a = 1\nb = \nc = 3\n"); }).substr(0, 16), "2 probe.toml:2: ");
    EXPECT_EQ(message_of([] { from("a = 1\na = 2\n"); }),
              "2 probe.toml:2: error while parsing key-value pair: cannot redefine existing integer 'a'");
}

TEST(Settings, KeepsEveryErrorToOneLine) {
    EXPECT_EQ(message_of([] { from("pitch_mm = \"two\\nlines\"\n").number("pitch_mm"); }),
              "2 probe.toml:1: pitch_mm: is the text \"two lines\"; give a number, in mm");
}

TEST(Settings, RefusesWhatIsNoFile) {
    const TemporaryFolder folder;
    const std::string missing = (folder / "none.toml").string();
    EXPECT_EQ(message_of([&] { Settings::from_file(missing); }), "2 " + missing + ": no such file");
    EXPECT_EQ(message_of([&] { Settings::from_file(folder.path()); }),
              "2 " + folder.path().string() + ": this is a folder; give a settings file");
    EXPECT_EQ(message_of([] { Settings::from_file("/dev/zero"); }),
              "2 /dev/zero: larger than 16 MiB; this is no settings file");
}

TEST(Overrides, ReplaceAndAddValues) {
    auto settings = from("a = 1\n[[row]]\nx = 1\n[[row]]\nx = 2\n",
                         {{"a", "2.5"}, {"row.1.x", "7"}, {"medium.name", "water"}, {"list", "[1, 2]"}});
    EXPECT_EQ(settings.number("a"), 2.5);
    EXPECT_EQ(settings.tables("row")[1].number("x"), 7.0);
    EXPECT_EQ(settings.tables("row")[0].number("x"), 1.0);
    EXPECT_EQ(settings.table("medium").text("name"), "water");
    EXPECT_EQ(settings.numbers("list").size(), 2U);
    EXPECT_NO_THROW(settings.finish());
}

TEST(Overrides, AreSuggestedAsTheyAreTyped) {
    EXPECT_EQ(message_of([] {
                  auto settings = from("focus_depth_mm = 40\n", {{"focus_dept_mm", "30", "scan."}});
                  settings.number("focus_depth_mm");
                  settings.finish();
              }),
              "2 --set: scan.focus_dept_mm: unknown key, did you mean 'scan.focus_depth_mm'?");
    EXPECT_EQ(message_of([] {
                  auto settings = from("[receive]\nf_number = 2\n", {{"receive.f_numbr", "4"}});
                  settings.table("receive").number("f_number");
                  settings.finish();
              }),
              "2 --set: receive.f_numbr: unknown key, did you mean 'receive.f_number'?");
    EXPECT_EQ(message_of([] {
                  from("pitch_mm = 1\n", {{"pitch_mm", "-2", "probe."}}).number("pitch_mm", positive());
              }),
              "2 --set: probe.pitch_mm: is -2; give a number more than 0, in mm");
}

TEST(Overrides, AreNamedAsThePlaceOfTheirErrors) {
    EXPECT_EQ(message_of([] {
                  from("pitch_mm = 1\n", {{"pitch_mm", "-2"}}).number("pitch_mm", positive());
              }),
              "2 --set: pitch_mm: is -2; give a number more than 0, in mm");
    EXPECT_EQ(message_of([] {
                  from("", {{"pitch_mm", "0.3mm"}}).number("pitch_mm", positive());
              }),
              "2 --set: pitch_mm: is the text \"0.3mm\"; give a number more than 0, in mm");
    EXPECT_EQ(message_of([] {
                  auto settings = from("pitch_mm = 1\n", {{"pich_mm", "2"}});
                  settings.number("pitch_mm");
                  settings.finish();
              }),
              "2 --set: pich_mm: unknown key, did you mean 'pitch_mm'?");
    EXPECT_EQ(message_of([] {
                  auto settings = from("", {{"fault.seed", "2"}});
                  settings.table_if("faults");
                  settings.finish();
              }),
              "2 --set: fault: unknown key, did you mean 'faults'?");
}

TEST(Overrides, RefuseWhatLeadsNowhere) {
    EXPECT_EQ(message_of([] {
                  from("[[row]]\nx = 1\n", {{"row.3.x", "2"}});
              }),
              "2 --set: row.3.x: no entry '3' in this list; the entries are numbered from 0, and there are 1");
    EXPECT_EQ(message_of([] {
                  from("a = 1\n", {{"a.b", "2"}});
              }),
              "2 --set: a.b: 'b' would lie inside 1, which is not a table");
    EXPECT_EQ(message_of([] {
                  from("a = 1\n", {{"a", "[1,"}});
              }),
              "2 --set: a: '[1,' is not a TOML value; give a number, true, false, \"text\" or a list");
    EXPECT_EQ(message_of([] {
                  from("a = 1\n", {{"a", "1\nb = 2"}});
              }),
              "2 --set: a: the value holds a line break; give one TOML value");
    EXPECT_EQ(message_of([] {
                  from("a = 1\n", {{"a..b", "1"}});
              }),
              "2 --set: a..b: not a key; write key=value or table.key=value");
}

TEST(Overrides, AreWrittenUnderTheExactText) {
    EXPECT_EQ(from("a = 1  # kept").source_text(), "a = 1  # kept");
    EXPECT_EQ(from("a = 1  # kept", {{"a", "2"}, {"b", "word"}}).source_text(),
              "a = 1  # kept\n# set on the command line: a = 2\n# set on the command line: b = word\n");
}

}  // namespace
}  // namespace echoloom
