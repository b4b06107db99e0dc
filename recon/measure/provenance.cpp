#include "recon/measure/provenance.h"

#include "recon/image/description.h"
#include "recon/image/scan_captions.h"

namespace echoloom {

std::string provenance(const Image& image) {
    // One line of a plot's foot: without the frame rate, which says nothing about a curve.
    return describe_probe(image.recording.probe) + "; " + describe_scan(image.recording) + "\n" +
           caution(is_simulated(image));
}

}  // namespace echoloom
