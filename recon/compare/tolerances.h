#pragma once
/// What may differ between before and after: for every metric how much, and which way is better.
///
/// A TOML file of [[metric]] entries; tolerances.toml beside this file has every one by default and explains the keys.
/// A user's file need only hold those it changes.

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

namespace echoloom {

enum class Better { none, less, more, nearer_zero };

struct Tolerance {
    std::string name;                      ///< of the metric: "points.lateral_6dB_mm"
    std::optional<double> absolute;        ///< in the metric's own unit
    std::optional<double> relative;        ///< of the value before, as a fraction
    std::optional<double> disturbance_dB;  ///< what adding a field of this level could do to a level (both against
                                           ///< the same peak)
    std::optional<double> least, most;     ///< limits on the value itself, for differences and likenesses
    Better better = Better::none;
    bool ignore = false;  ///< told, never judged

    /// By how much the value may change; the widest of what is given.
    double allowed(double before) const;
};

class Tolerances {
  public:
    /// The shipped file, then the entries of `file` in place of those of the same name. Throws InputError for a name
    /// that is not known, suggesting one.
    static Tolerances load(const std::optional<std::filesystem::path>& file = std::nullopt);

    /// That of a metric; of one that no entry names, the entry "other".
    const Tolerance& of(const std::string& name) const;
    const std::vector<Tolerance>& all() const { return entries_; }

  private:
    std::vector<Tolerance> entries_;
};

}  // namespace echoloom
