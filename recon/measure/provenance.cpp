#include "recon/measure/provenance.h"

#include "recon/image/description.h"
#include "recon/image/scan_captions.h"

namespace echoloom {

std::string provenance(const Image& image) {
    // Without the frame rate, which has no bearing on a curve, it fits on one line.
    return describe_probe(image.recording.probe) + "; " + describe_scan(image.recording) + "\n" +
           caution(is_simulated(image));
}

}  // namespace echoloom
