#include "sim/engine/beam_field.h"

#include "sim/base/parallel.h"

namespace echoloom {

struct BeamField::More {
    Probe probe;
    std::optional<HeadMotion> head;
    TransmitEvent event;
    Medium medium;
    Reception reception;
    ElementDrive transmit_drive, receive_drive;  ///< the latter where reception does not follow
    std::optional<TransmittedField> received;    ///< as if transmitted, where reception does not follow
    std::optional<PulsedField> pulse;

    TransmittedField as_transmitted(const ElementDrive& drive, double frequency_Hz) const {
        TransmitEvent transmitted = event;
        transmitted.weight = drive.weight;
        transmitted.delay_s = drive.delay_s;
        return {probe, head, transmitted, medium, frequency_Hz};
    }
};

ElementDrive drive_of(const TransmitEvent& event) {
    return {event.weight, event.delay_s};
}

BeamField::BeamField(const Probe& probe, const std::optional<HeadMotion>& head, const TransmitEvent& event,
                     const Medium& medium, Reception reception, const Setting& setting)
    : setting_(setting), transmitted_(probe, head, event, medium, setting.frequency_Hz) {
    const auto more = std::make_shared<More>(
        More{probe, head, event, medium, std::move(reception), drive_of(event), {}, std::nullopt, std::nullopt});
    if (setting.path != BeamPath::transmit && !more->reception.follows) {
        more->receive_drive = more->reception.at(setting.focus_range_m);
        more->received = more->as_transmitted(more->receive_drive, setting.frequency_Hz);
    }
    if (setting.pulsed) {
        more->pulse.emplace(probe, head, event.head_angle_rad, medium);
    }
    more_ = more;
}

ElementDrive BeamField::receive_drive_at(const Vec3& point_m) const {
    return more_->reception.follows ? more_->reception.at((point_m - more_->event.origin_m).norm())
                                    : more_->receive_drive;
}

double BeamField::amplitude(const Vec3& point_m) const {
    if (setting_.pulsed) {
        switch (setting_.path) {
            case BeamPath::transmit:
                return more_->pulse->peak(point_m, more_->transmit_drive);
            case BeamPath::receive:
                return more_->pulse->peak(point_m, receive_drive_at(point_m));
            case BeamPath::two_way:
                return more_->pulse->peak(point_m, more_->transmit_drive, receive_drive_at(point_m));
        }
    }
    if (setting_.path == BeamPath::transmit) {
        return transmitted_.amplitude(point_m);
    }
    const double received =
        more_->received ? more_->received->amplitude(point_m)
                        : more_->as_transmitted(receive_drive_at(point_m), setting_.frequency_Hz).amplitude(point_m);
    return setting_.path == BeamPath::receive ? received : received * transmitted_.amplitude(point_m);
}

std::vector<double> BeamField::amplitudes(std::span<const Vec3> points_m) const {
    std::vector<double> result(points_m.size());
    for_each_in_parallel(
        points_m.size(), [&](std::size_t i) { result[i] = amplitude(points_m[i]); }, 32);
    return result;
}

double BeamField::far_amplitude_m(const Vec3& direction) const {
    if (setting_.path == BeamPath::transmit) {
        return transmitted_.far_amplitude_m(direction);
    }
    const double received =
        more_->received ? more_->received->far_amplitude_m(direction)
                        : more_->as_transmitted(more_->reception.at(setting_.focus_range_m), setting_.frequency_Hz)
                              .far_amplitude_m(direction);
    return setting_.path == BeamPath::receive ? received : received * transmitted_.far_amplitude_m(direction);
}

}  // namespace echoloom
