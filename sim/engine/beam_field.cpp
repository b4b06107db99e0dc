#include "sim/engine/beam_field.h"

#include "sim/base/parallel.h"

namespace echoloom {

struct BeamField::More {
    Probe probe;
    std::optional<HeadMotion> head;
    TransmitEvent event;
    Medium medium;
    Reception listening;
    ElementDrive sent_drive, heard_drive;   ///< the latter where listening does not follow
    std::optional<TransmittedField> heard;  ///< as if it were sent, where listening does not follow
    std::optional<PulsedField> pulse;

    TransmittedField as_transmitted(const ElementDrive& drive, double frequency_Hz) const {
        TransmitEvent sent = event;
        sent.weight = drive.weight;
        sent.delay_s = drive.delay_s;
        return {probe, head, sent, medium, frequency_Hz};
    }
};

ElementDrive drive_of(const TransmitEvent& event) {
    return {event.weight, event.delay_s};
}

BeamField::BeamField(const Probe& probe, const std::optional<HeadMotion>& head, const TransmitEvent& event,
                     const Medium& medium, Reception listening, const Setting& setting)
    : setting_(setting), sent_(probe, head, event, medium, setting.frequency_Hz) {
    const auto more = std::make_shared<More>(
        More{probe, head, event, medium, std::move(listening), drive_of(event), {}, std::nullopt, std::nullopt});
    if (setting.way != BeamPath::transmit && !more->listening.follows) {
        more->heard_drive = more->listening.at(setting.focus_range_m);
        more->heard = more->as_transmitted(more->heard_drive, setting.frequency_Hz);
    }
    if (setting.pulsed) {
        more->pulse.emplace(probe, head, event.head_angle_rad, medium);
    }
    more_ = more;
}

ElementDrive BeamField::heard_by(const Vec3& point_m) const {
    return more_->listening.follows ? more_->listening.at((point_m - more_->event.origin_m).norm())
                                    : more_->heard_drive;
}

double BeamField::amplitude(const Vec3& point_m) const {
    if (setting_.pulsed) {
        switch (setting_.way) {
            case BeamPath::transmit:
                return more_->pulse->peak(point_m, more_->sent_drive);
            case BeamPath::receive:
                return more_->pulse->peak(point_m, heard_by(point_m));
            case BeamPath::two_way:
                return more_->pulse->peak(point_m, more_->sent_drive, heard_by(point_m));
        }
    }
    if (setting_.way == BeamPath::transmit) {
        return sent_.amplitude(point_m);
    }
    const double heard = more_->heard
                             ? more_->heard->amplitude(point_m)
                             : more_->as_transmitted(heard_by(point_m), setting_.frequency_Hz).amplitude(point_m);
    return setting_.way == BeamPath::receive ? heard : heard * sent_.amplitude(point_m);
}

std::vector<double> BeamField::amplitudes(std::span<const Vec3> points_m) const {
    std::vector<double> result(points_m.size());
    for_each_in_parallel(
        points_m.size(), [&](std::size_t i) { result[i] = amplitude(points_m[i]); }, 32);
    return result;
}

double BeamField::far_amplitude_m(const Vec3& direction) const {
    if (setting_.way == BeamPath::transmit) {
        return sent_.far_amplitude_m(direction);
    }
    const double heard = more_->heard
                             ? more_->heard->far_amplitude_m(direction)
                             : more_->as_transmitted(more_->listening.at(setting_.focus_range_m), setting_.frequency_Hz)
                                   .far_amplitude_m(direction);
    return setting_.way == BeamPath::receive ? heard : heard * sent_.far_amplitude_m(direction);
}

}  // namespace echoloom
