#include "sim/recording/groups.h"

#include "sim/recording/tables.h"

namespace echoloom {

namespace {

void write_tables(Hdf5Writer& writer, const std::string& root, const std::vector<Table>& tables) {
    for (const Table& table : tables) {
        std::visit(
            [&](const auto& values) { writer.dataset(root + table.path, std::span(values), table.shape, table.label); },
            table.values);
    }
}

}  // namespace

void write_groups(Hdf5Writer& writer, const std::string& root, const RecordingInfo& info) {
    for (const char* group : {"/receive", "/probe", "/transmit", "/medium", "/truth", "/truth/regions", "/source"}) {
        writer.group(root + group);
    }
    if (std::holds_alternative<SampledPulse>(info.probe.pulse)) {
        writer.group(root + "/probe/pulse");
    }
    if (info.head) {
        writer.group(root + "/probe/head");
    }
    if (!info.truth.sheets.empty()) {
        writer.group(root + "/truth/sheets");
    }
    write_tables(writer, root, geometry_tables(info));
    write_tables(writer, root, background_tables(info));
}

void write_format(Hdf5Writer& writer, const FileFormat& format, const std::string& program_version) {
    writer.attribute("/", "format", format.name);
    writer.attribute("/", "format_version", format.version);
    writer.attribute("/", "program_version", program_version);
    writer.attribute("/", "data_order", "C");
}

void write_complete(Hdf5Writer& writer) {
    writer.attribute("/", "complete", 1);
}

/// Recordings and images are easily taken for each other.
static std::string what_instead(std::string_view given, const FileFormat& wanted) {
    if (given == "echoloom recording" && wanted.name == "echoloom image") {
        return "give an image of it, which `echoloom reconstruct` forms";
    }
    if (given == "echoloom image" && wanted.name == "echoloom recording") {
        return "give the recording that it was formed from";
    }
    return "give a file whose format is \"" + wanted.name + "\"";
}

void check_format(const Hdf5Reader& reader, const FileFormat& format) {
    const auto name = reader.text_attribute("/", "format");
    if (!name) {
        reader.fail("/@format", "is missing; give a file whose format is \"" + format.name + "\"");
    }
    if (*name != format.name) {
        reader.fail("/@format", "is \"" + *name + "\"; " + what_instead(*name, format));
    }
    const auto version = reader.integer_attribute("/", "format_version");
    if (version && *version > format.version) {
        reader.fail("/@format_version", "written by a newer echoloom: format version " + std::to_string(*version) +
                                            ", this one reads " + std::to_string(format.version));
    }
    if (!version || *version != format.version) {
        reader.fail("/@format_version", (version ? "is " + std::to_string(*version) : std::string("is missing")) +
                                            "; give " + std::to_string(format.version));
    }
    if (reader.integer_attribute("/", "complete") != 1) {
        reader.fail("/@complete", "is not 1: the file was never finished; write it again");
    }
}

std::string format_of(const std::filesystem::path& file) {
    return Hdf5Reader(file).text_attribute("/", "format").value_or("");
}

std::string program_version() {
    return ECHOLOOM_VERSION;
}

}  // namespace echoloom
