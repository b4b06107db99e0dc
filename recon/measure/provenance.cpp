#include "recon/measure/provenance.h"

#include "recon/image/description.h"

namespace echoloom {

std::string provenance(const Image& image) {
    return describe_recording(image.recording) + "\n" + caution(is_simulated(image));
}

}  // namespace echoloom
