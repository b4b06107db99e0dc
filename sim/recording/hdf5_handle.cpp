#include "sim/recording/hdf5_handle.h"

#include <hdf5.h>

#include <optional>
#include <string_view>
#include <type_traits>
#include <utility>

#include "sim/base/error.h"

#ifdef __SANITIZE_ADDRESS__
// HDF5 1.10.8 loses memory of its own where a damaged file or a full disk stops it half-way; the leak checker looks
// away.
extern "C" {
const char* __lsan_default_suppressions();
const char* __lsan_default_suppressions() {
    return "leak:libhdf5";
}
const char* __lsan_default_options();
const char* __lsan_default_options() {
    return "print_suppressions=0";
}
}
#endif

namespace echoloom {

static_assert(std::is_same_v<Hdf5Id, hid_t> && std::is_same_v<herr_t, int>);

namespace {

/// HDF5 reports a system error as "...errno = 28, error message = 'No space left on device', ...".
std::optional<std::string> system_message(std::string_view description) {
    constexpr std::string_view before = "error message = '";
    const auto begin = description.find(before);
    if (begin == std::string_view::npos) {
        return std::nullopt;
    }
    const auto message = description.substr(begin + before.size());
    return std::string(message.substr(0, message.find('\'')));
}

/// Keeps the first line it is shown; HDF5 shows the deepest first.
herr_t keep_deepest(unsigned, const H5E_error2_t* line, void* text) {
    auto& kept = *static_cast<std::string*>(text);
    if (kept.empty() && line->desc != nullptr) {
        kept = line->desc;
    }
    return 0;
}

std::string deepest_reason() {
    std::string text;
    H5Ewalk2(H5E_DEFAULT, H5E_WALK_UPWARD, keep_deepest, &text);
    H5Eclear2(H5E_DEFAULT);
    return text;
}

}  // namespace

Hdf5Handle::Hdf5Handle(Hdf5Handle&& other) noexcept
    : id_(std::exchange(other.id_, -1)), closer_(std::exchange(other.closer_, nullptr)) {}

Hdf5Handle& Hdf5Handle::operator=(Hdf5Handle&& other) noexcept {
    std::swap(id_, other.id_);
    std::swap(closer_, other.closer_);
    return *this;
}

bool Hdf5Handle::close() {
    const Hdf5Id id = std::exchange(id_, -1);
    return id < 0 || closer_(id) >= 0;
}

Hdf5Context::Hdf5Context(std::string file, bool reading) : file_(std::move(file)), reading_(reading) {
    // Leaves out HDF5's clean-up at exit, which crashes (1.10.8) once a file could not be closed, as on a full disk.
    static const bool no_clean_up = H5dont_atexit() >= 0;
    static_cast<void>(no_clean_up);
    H5Eset_auto2(H5E_DEFAULT, nullptr, nullptr);
    H5PLset_loading_state(0);
}

void Hdf5Context::fail(const std::string& object, const std::string& what) const {
    const Place place{file_, 0, object};
    if (reading_) {
        throw InputError(place, what);
    }
    throw MachineError(at(place, what));
}

void Hdf5Context::refuse(const std::string& object, const std::string& what) const {
    const std::string reason = deepest_reason();
    if (const auto message = system_message(reason)) {
        throw MachineError(at({file_, 0, object}, what + ": " + *message));
    }
    fail(object, reason.empty() ? what : what + " (HDF5: " + reason + ")");
}

Hdf5Id Hdf5Context::check(Hdf5Id returned, const std::string& object, const std::string& what) const {
    if (returned < 0) {
        refuse(object, what);
    }
    return returned;
}

Hdf5Handle Hdf5Context::own(Hdf5Id id, Hdf5Handle::Closer closer, const std::string& object,
                            const std::string& what) const {
    return {check(id, object, what), closer};
}

std::string extents_text(const Shape& shape) {
    std::string text;
    for (const std::size_t extent : shape) {
        text += (text.empty() ? "" : " x ") + std::to_string(extent);
    }
    return text.empty() ? "a single value" : text;
}

}  // namespace echoloom
