#pragma once
/// What an import noticed, in words for whoever acquired the data: what looks wrong has "warning:" and what to do.

#include <string>

#include "sim/import/import_recording.h"
#include "tools/cli/facts.h"

namespace echoloom {

Facts import_facts(const std::string& output, const ImportReport& report);

}  // namespace echoloom
