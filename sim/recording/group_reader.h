#pragma once
/// One group of a recording, read dataset by dataset.

#include <algorithm>
#include <array>
#include <cmath>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "sim/base/settings_text.h"
#include "sim/base/text.h"
#include "sim/base/vector.h"
#include "sim/recording/hdf5_reader.h"

namespace echoloom {

/// One group's datasets, read and held to their limits. `at` names them in errors.
class GroupReader {
  public:
    GroupReader(const Hdf5Reader& file, std::string path) : file_(file), path_(std::move(path)) {}

    const Hdf5Reader& file() const { return file_; }
    std::string at(const std::string& name) const { return path_ + '/' + name; }
    bool has(const std::string& name) const { return file_.has(at(name)); }

    double number(const std::string& name, const Range& range) const { return file_.number(at(name), range); }
    double number_or(const std::string& name, double fallback, const Range& range) const {
        return file_.number_or(at(name), fallback, range);
    }

    std::vector<double> numbers(const std::string& name, const WantedShape& wanted, const Range& range) const {
        const auto array = file_.numbers(at(name), wanted);
        for (std::size_t i = 0; i < array.values.size(); ++i) {
            if (!in_range(array.values[i], range)) {
                file_.fail(at(name), "entry " + index_text(i, array.shape) + " is " + plain(array.values[i]) +
                                         "; give " + wanted_number(name, range));
            }
        }
        return array.values;
    }

    std::vector<Vec3> points(const std::string& name, const std::string& axis, std::size_t count,
                             const Range& range) const {
        const auto values = numbers(name, {{count, 3}, '[' + axis + ", 3]"}, range);
        std::vector<Vec3> points;
        for (std::size_t i = 0; i < values.size(); i += 3) {
            points.emplace_back(values[i], values[i + 1], values[i + 2]);
        }
        return points;
    }

    std::vector<Vec3> unit_vectors(const std::string& name, const std::string& axis, std::size_t count) const {
        constexpr double tolerance = 1e-5;  // float32 components are good to 1e-7
        auto vectors = points(name, axis, count, Range{});
        for (std::size_t i = 0; i < vectors.size(); ++i) {
            if (!(std::abs(vectors[i].norm() - 1.0) <= tolerance)) {
                file_.fail(at(name), "row " + std::to_string(i) + " has the length " + plain(vectors[i].norm()) +
                                         "; give vectors of length 1");
            }
        }
        return vectors;
    }

    /// Enumeration values of names, one per item.
    template <typename Enumeration, std::size_t count>
    std::vector<Enumeration> names(const std::string& name, const WantedShape& wanted,
                                   const std::array<std::string_view, count>& known) const {
        std::vector<Enumeration> values;
        for (const std::string& text : file_.texts(at(name), wanted)) {
            values.push_back(from_name<Enumeration>(name, text, known));
        }
        return values;
    }

    template <typename Enumeration, std::size_t count>
    Enumeration from_name(const std::string& name, const std::string& text,
                          const std::array<std::string_view, count>& known) const {
        known_name(name, text, known);
        return static_cast<Enumeration>(std::ranges::find(known, text) - known.begin());
    }

    /// The name itself.
    std::string known_name(const std::string& name, const std::string& text,
                           std::span<const std::string_view> known) const {
        if (std::ranges::find(known, text) == known.end()) {
            std::string allowed;
            for (const std::string_view other : known) {
                allowed += (allowed.empty() ? "" : ", ") + std::string(other);
            }
            file_.fail(at(name), "\"" + text + "\" is not known; give one of " + allowed);
        }
        return text;
    }

  private:
    /// "3, 17" for the place of a value in C order.
    static std::string index_text(std::size_t index, const Shape& shape) {
        std::size_t below = 1;
        for (const std::size_t extent : shape) {
            below *= extent;
        }
        std::string text;
        for (const std::size_t extent : shape) {
            below /= extent;
            text += (text.empty() ? "" : ", ") + std::to_string(index / below % extent);
        }
        return text;
    }

    const Hdf5Reader& file_;
    std::string path_;
};

}  // namespace echoloom
