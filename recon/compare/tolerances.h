#pragma once
/// What may differ between before and after: for every metric how much, and in which direction it is better.
///
/// A TOML file of [[metric]] entries; tolerances.toml beside this file has the defaults and explains the keys. A user's
/// file need only contain those it changes.

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

namespace echoloom {

enum class Better { none, lower, higher, nearer_zero };

struct Tolerance {
    std::string name;                      ///< of the metric: "points.lateral_6dB_mm"
    std::optional<double> absolute;        ///< in the metric's own unit
    std::optional<double> relative;        ///< of the value before, as a fraction
    std::optional<double> disturbance_dB;  ///< what adding a field of this level could change in a level (both against
                                           ///< the same peak)
    std::optional<double> min, max;        ///< limits on the value itself, for differences and similarities
    Better better = Better::none;
    bool ignore = false;  ///< shown, never judged

    /// By how much the value may change; the widest of what is given.
    double allowed(double before) const;
};

class Tolerances {
  public:
    /// The shipped file, then the entries of `file` in place of those of the same name. Throws InputError for an
    /// unknown name, suggesting one.
    static Tolerances load(const std::optional<std::filesystem::path>& file = std::nullopt);

    /// That of a metric; of one that no entry names, the entry "other".
    const Tolerance& of(const std::string& name) const;
    const std::vector<Tolerance>& all() const { return entries_; }

  private:
    std::vector<Tolerance> entries_;
};

}  // namespace echoloom
