#pragma once
/// What a file holds, once in words and once for machines.

#include <nlohmann/json.hpp>
#include <string>
#include <utility>
#include <vector>

#include "recon/image/image.h"
#include "sim/recording/recording.h"

namespace echoloom {

class Facts {
  public:
    explicit Facts(std::string headline) : headline_(std::move(headline)) {}
    /// `label` starts a line of words; `numbers` (key: value) goes to JSON. Either may be empty.
    void add(const std::string& label, const std::string& words,
             const nlohmann::ordered_json& numbers = nlohmann::ordered_json::object());
    /// For JSON alone.
    void add_numbers(const nlohmann::ordered_json& numbers) { numbers_.update(numbers); }

    std::string in_words() const;
    std::string in_json() const;

  private:
    std::string headline_;
    std::vector<std::pair<std::string, std::string>> lines_;
    nlohmann::ordered_json numbers_ = nlohmann::ordered_json::object();
};

void add_medium(Facts& facts, const Medium& medium);

Facts recording_facts(const std::string& file, const RecordingInfo& info);
/// What a scan is with a probe, in a medium of the speed it assumes.
Facts scan_facts(const std::string& name, const Scan& scan, const Probe& probe);
Facts probe_facts(const std::string& name, const Probe& probe);
Facts image_facts(const std::string& file, const Image& image);

}  // namespace echoloom
