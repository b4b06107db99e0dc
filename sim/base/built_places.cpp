#include "sim/base/built_places.h"

namespace echoloom {

const BuiltPlaces built_places{ECHOLOOM_SOURCE_DIR, ECHOLOOM_BUILD_DIR, ECHOLOOM_INSTALLED_HOME,
                               ECHOLOOM_HOME_FROM_PROGRAM};

}  // namespace echoloom
