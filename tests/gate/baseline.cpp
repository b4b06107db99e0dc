#include "tests/gate/baseline.h"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <fstream>
#include <nlohmann/json.hpp>

#include "recon/image/grey_scale.h"
#include "recon/measure/grid_place.h"
#include "sim/base/atomic_file.h"
#include "sim/base/digest.h"
#include "sim/base/error.h"

namespace echoloom::gate {

namespace {

constexpr double steps_per_dB = 50000.0;
constexpr double range_dB = 160.0;
constexpr double negative = 8388608.0;
constexpr std::size_t max_columns = 64;
constexpr std::size_t max_samples = 4000;

template <typename Value>
std::vector<Value> every(const std::vector<Value>& values, std::size_t stride) {
    std::vector<Value> some;
    for (std::size_t n = 0; n < values.size(); n += stride) {
        some.push_back(values[n]);
    }
    return some;
}

std::string grid_text(const Image& image) {
    const auto& depths = depths_of(image.grid);
    const Column first = column_at(image.grid, 0.0);
    const Column last = column_at(image.grid, static_cast<double>(image.columns - 1));
    char text[200];
    std::snprintf(text, sizeof text, "%zu columns from x %.4f to %.4f mm, %zu depths from %.4f to %.4f mm",
                  image.columns, first.origin_m.x() * 1e3 + 0.0, last.origin_m.x() * 1e3 + 0.0, image.depths,
                  depths.front() * 1e3, depths.back() * 1e3);
    return text;
}

/// Seven digits: far below every tolerance, and a rebuild elsewhere does not change them all.
double rounded(double value) {
    char text[40];
    std::snprintf(text, sizeof text, "%.7g", value);
    return std::strtod(text, nullptr);
}

template <typename Value>
void update(Sha256& digest, const std::vector<Value>& values) {
    digest.update(std::as_bytes(std::span(values)));
}

}  // namespace

Stride stride_of(const Image& image) {
    Stride stride;
    stride.column = (image.columns + max_columns - 1) / max_columns;
    const std::size_t columns = (image.columns + stride.column - 1) / stride.column;
    stride.depth = (columns * image.depths + max_samples - 1) / max_samples;
    return stride;
}

Image thinned(const Image& image, const Stride& stride) {
    Image thin;
    thin.recipe = image.recipe;
    thin.recording = image.recording;
    thin.sound_speed_m_s = image.sound_speed_m_s;
    if (const auto* lines = std::get_if<LineGrid>(&image.grid)) {
        thin.grid = LineGrid{every(lines->origin_m, stride.column), every(lines->direction, stride.column),
                             every(lines->depth_m, stride.depth)};
    } else {
        const auto& pixels = std::get<CartesianGrid>(image.grid);
        thin.grid = CartesianGrid{every(pixels.x_m, stride.column), every(pixels.depth_m, stride.depth)};
    }
    const auto thin_field = [&](const std::vector<float>& field) {
        std::vector<float> some;
        for (std::size_t n = 0; n < field.size(); ++n) {
            if (n / image.depths % stride.column == 0 && n % image.depths % stride.depth == 0) {
                some.push_back(field[n]);
            }
        }
        return some;
    };
    thin.envelope = thin_field(image.envelope);
    thin.real = thin_field(image.real);
    thin.imaginary = thin_field(image.imaginary);
    thin.columns = (image.columns + stride.column - 1) / stride.column;
    thin.depths = (image.depths + stride.depth - 1) / stride.depth;
    return thin;
}

std::vector<std::uint32_t> level_codes(const std::vector<float>& values, double peak) {
    std::vector<std::uint32_t> codes;
    codes.reserve(values.size());
    for (const float value : values) {
        const double size = std::abs(static_cast<double>(value));
        const double above_dB = size > 0.0 && peak > 0.0 ? 20.0 * std::log10(size / peak) + range_dB : -1.0;
        const double code = above_dB < 0.0 ? 0.0 : std::min(negative - 1.0, 1.0 + std::round(above_dB * steps_per_dB));
        codes.push_back(static_cast<std::uint32_t>(code + (value < 0.0F && code > 0.0 ? negative : 0.0)));
    }
    return codes;
}

std::vector<float> from_codes(std::span<const std::uint32_t> codes, double peak) {
    std::vector<float> values;
    values.reserve(codes.size());
    for (const std::uint32_t code : codes) {
        const std::uint32_t level = code % static_cast<std::uint32_t>(negative);
        const double size = level == 0 ? 0.0 : peak * std::pow(10.0, ((level - 1.0) / steps_per_dB - range_dB) / 20.0);
        values.push_back(static_cast<float>(code >= negative ? -size : size));
    }
    return values;
}

std::optional<Image> thinned_before(const Baseline& baseline, const Image& like) {
    Image thin = thinned(like, baseline.stride);
    const std::size_t size = thin.envelope.size();
    if (grid_text(like) != baseline.grid || size == 0 || baseline.codes.size() % size != 0 ||
        baseline.codes.size() < size) {
        return std::nullopt;
    }
    const std::span<const std::uint32_t> codes(baseline.codes);
    const auto field = [&](std::size_t index) {
        return (index + 1) * size <= codes.size() ? from_codes(codes.subspan(index * size, size), baseline.peak)
                                                  : std::vector<float>{};
    };
    thin.envelope = field(0);
    thin.real = field(1);
    thin.imaginary = field(2);
    return thin;
}

std::string image_digest(const Image& image) {
    Sha256 digest;
    update(digest, image.envelope);
    update(digest, image.real);
    update(digest, image.imaginary);
    update(digest, depths_of(image.grid));
    if (const auto* lines = std::get_if<LineGrid>(&image.grid)) {
        for (std::size_t n = 0; n < lines->origin_m.size(); ++n) {
            const Vec3& origin = lines->origin_m[n];
            const Vec3& direction = lines->direction[n];
            update(digest, std::vector<double>{origin.x(), origin.y(), origin.z(), direction.x(), direction.y(),
                                               direction.z()});
        }
    } else {
        update(digest, std::get<CartesianGrid>(image.grid).x_m);
    }
    return "sha256:" + digest.hex();
}

Baseline baseline_of(const Image& image) {
    Baseline baseline;
    baseline.recording_digest = image.recording.content_digest;
    baseline.image_digest = image_digest(image);
    baseline.grid = grid_text(image);
    baseline.peak = peak_amplitude(image.envelope);
    baseline.stride = stride_of(image);
    const Image thin = thinned(image, baseline.stride);
    for (const std::vector<float>* field : {&thin.envelope, &thin.real, &thin.imaginary}) {
        const auto codes = level_codes(*field, baseline.peak);
        baseline.codes.insert(baseline.codes.end(), codes.begin(), codes.end());
    }
    baseline.metrics = image_metrics(image);
    for (Metric& metric : baseline.metrics) {
        if (metric.value) {
            metric.value = rounded(*metric.value);
        }
    }
    return baseline;
}

std::optional<Baseline> read_baseline(const std::filesystem::path& folder, const std::string& name) {
    const std::filesystem::path file = folder / (name + ".json");
    if (!std::filesystem::exists(file)) {
        return std::nullopt;
    }
    try {
        std::ifstream stream(file);
        const auto json = nlohmann::json::parse(stream);
        Baseline baseline;
        baseline.recording_digest = json.at("recording_digest");
        baseline.image_digest = json.at("image_digest");
        baseline.grid = json.at("grid");
        baseline.peak = json.at("peak");
        baseline.stride = {json.at("every_column"), json.at("every_depth")};
        for (const auto& entry : json.at("numbers")) {
            const auto& value = entry.at(2);
            baseline.metrics.push_back({entry.at(0), entry.at(1),
                                        value.is_null()     ? std::nullopt
                                        : value.is_string() ? std::optional(std::stod(value.get<std::string>()))
                                                            : std::optional(value.get<double>())});
        }
        std::ifstream levels(folder / (name + ".levels"), std::ios::binary);
        for (char bytes[3]; levels.read(bytes, 3);) {
            std::uint32_t code = 0;
            for (unsigned n = 0; n < 3; ++n) {
                code |= static_cast<std::uint32_t>(static_cast<unsigned char>(bytes[n])) << (8U * n);
            }
            baseline.codes.push_back(code);
        }
        return baseline;
    } catch (const std::exception& error) {
        throw InputError({file.string()}, std::string("cannot be read (") + error.what() +
                                              "); take it from git again, or accept a new baseline");
    }
}

void write_baseline(const std::filesystem::path& folder, const std::string& name, const Baseline& baseline) {
    // One number a line, so that git shows what an accepted change did.
    std::string text = "{\n";
    const auto add = [&](const char* key, const nlohmann::json& value) {
        text += std::string("\"") + key + "\": " + value.dump() + ",\n";
    };
    add("recording_digest", baseline.recording_digest);
    add("image_digest", baseline.image_digest);
    add("grid", baseline.grid);
    add("peak", baseline.peak);
    add("every_column", baseline.stride.column);
    add("every_depth", baseline.stride.depth);
    text += "\"numbers\": [\n";
    for (const Metric& metric : baseline.metrics) {
        nlohmann::json value = nullptr;
        if (metric.value) {
            value = std::isfinite(*metric.value) ? nlohmann::json(*metric.value)
                                                 : nlohmann::json(*metric.value < 0.0 ? "-inf" : "inf");
        }
        text += nlohmann::json{metric.name, metric.where, value}.dump() +
                (&metric == &baseline.metrics.back() ? "\n" : ",\n");
    }
    text += "]\n}\n";
    write_file(folder / (name + ".json"), text);
    std::vector<char> bytes;
    for (const std::uint32_t code : baseline.codes) {
        for (unsigned n = 0; n < 3; ++n) {
            bytes.push_back(static_cast<char>(code >> (8U * n) & 0xFFU));
        }
    }
    write_file(folder / (name + ".levels"), bytes);
}

}  // namespace echoloom::gate
