#include "sim/array/impulse_response.h"

#include <algorithm>
#include <cmath>
#include <fstream>
#include <sstream>
#include <string>
#include <vector>

#include "sim/base/error.h"
#include "sim/base/text.h"

namespace echoloom {

namespace {

constexpr std::size_t min_samples = 4;
constexpr std::size_t max_samples = 4096;

struct Row {
    double time_us = 0.0;
    double amplitude = 0.0;
    int line = 0;
};

std::vector<Row> read_rows(const std::filesystem::path& path) {
    const std::string name = path.string();
    std::ifstream stream(path);
    if (!stream || std::filesystem::is_directory(path)) {
        throw InputError({name}, "no impulse response can be read here; give a text file of time_us and amplitude");
    }
    std::vector<Row> rows;
    int line = 0;
    for (std::string text; std::getline(stream, text);) {
        ++line;
        std::ranges::replace(text, ',', ' ');
        if (text.find_first_not_of(" \t\r") == std::string::npos || text.starts_with('#')) {
            continue;
        }
        std::istringstream words(text);
        Row row{0.0, 0.0, line};
        std::string rest;
        if (!(words >> row.time_us >> row.amplitude) || words >> rest) {
            throw InputError({name, line}, "not two numbers; give a time in microseconds and an amplitude");
        }
        rows.push_back(row);
        if (rows.size() > max_samples) {
            throw InputError({name, line},
                             "more than " + std::to_string(max_samples) + " samples; shorten the response");
        }
    }
    return rows;
}

}  // namespace

SampledPulse read_impulse_response(const std::filesystem::path& path) {
    const std::vector<Row> rows = read_rows(path);
    const std::string name = path.string();
    if (rows.size() < min_samples) {
        throw InputError({name},
                         "only " + counted(rows.size(), "sample") + "; give at least " + std::to_string(min_samples));
    }
    if (std::ranges::all_of(rows, [](const Row& row) { return row.amplitude == 0.0; })) {
        throw InputError({name}, "every amplitude is zero; give the echo of a point target");
    }
    const double step_us = (rows.back().time_us - rows.front().time_us) / static_cast<double>(rows.size() - 1);
    SampledPulse pulse;
    for (std::size_t n = 0; n < rows.size(); ++n) {
        const double expected_us = rows.front().time_us + static_cast<double>(n) * step_us;
        // Times are written with few digits: a hundredth of a step is rounding, more is another spacing.
        if (!(step_us > 0.0) || std::abs(rows[n].time_us - expected_us) > 0.01 * step_us) {
            throw InputError({name, rows[n].line}, "times are not equally spaced; give samples at one rate");
        }
        pulse.samples.push_back(rows[n].amplitude);
    }
    pulse.sampling_rate_Hz = 1e6 / step_us;
    pulse.start_s = rows.front().time_us * 1e-6;
    return pulse;
}

}  // namespace echoloom
