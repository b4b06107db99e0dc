#include "sim/base/atomic_file.h"

#include <fcntl.h>
#include <unistd.h>

#include <array>
#include <atomic>
#include <cerrno>
#include <climits>
#include <cstring>
#include <string>
#include <system_error>
#include <utility>

#include "sim/base/error.h"

namespace echoloom {

namespace {

/// Names of temporaries not yet committed, where a signal handler can read them: no allocation, no lock. `state` is
/// released after the name is complete and taken back before it changes.
struct Slot {
    enum State : int { free, taken, named };
    std::atomic<int> state{free};
    std::array<char, PATH_MAX> name{};
};
static_assert(std::atomic<int>::is_always_lock_free);
constexpr int no_slot = -1;

std::array<Slot, 64>& slots() {
    static constinit std::array<Slot, 64> table;
    return table;
}

/// The slot that remembers `name`; none where the table is full or the name too long (then Ctrl-C leaves the file).
int remember(const std::string& name) {
    if (name.size() >= PATH_MAX) {
        return no_slot;
    }
    for (std::size_t i = 0; i < slots().size(); ++i) {
        int expected = Slot::free;
        if (slots()[i].state.compare_exchange_strong(expected, Slot::taken)) {
            std::memcpy(slots()[i].name.data(), name.c_str(), name.size() + 1);
            slots()[i].state.store(Slot::named);
            return static_cast<int>(i);
        }
    }
    return no_slot;
}

void forget(int slot) {
    if (slot != no_slot) {
        slots()[static_cast<std::size_t>(slot)].state.store(Slot::free);
    }
}

[[noreturn]] void refuse(const std::filesystem::path& file, const std::string& what, int error) {
    std::string remedy;
    if (error == ENOSPC || error == EDQUOT) {
        remedy = "; free some space or choose a folder on another disk";
    } else if (error == EACCES || error == EPERM || error == EROFS) {
        remedy = "; choose a folder you may write to";
    }
    throw MachineError(at({file.string()}, what + ": " + std::generic_category().message(error) + remedy));
}

class Descriptor {
  public:
    explicit Descriptor(int number) : number_(number) {}
    ~Descriptor() { close(); }
    Descriptor(const Descriptor&) = delete;
    Descriptor& operator=(const Descriptor&) = delete;
    Descriptor(Descriptor&&) = delete;
    Descriptor& operator=(Descriptor&&) = delete;
    int number() const { return number_; }
    bool close() {
        const int number = std::exchange(number_, -1);
        return number < 0 || ::close(number) == 0;
    }

  private:
    int number_;
};

/// Renaming onto a link would replace the link, and onto a device would replace the device.
std::filesystem::path resolve(std::filesystem::path final_name) {
    std::error_code error;
    if (std::filesystem::is_symlink(final_name, error)) {
        final_name = std::filesystem::weakly_canonical(final_name, error);
    }
    if (std::filesystem::exists(final_name, error) && !std::filesystem::is_regular_file(final_name, error)) {
        throw MachineError(at({final_name.string()}, std::filesystem::is_directory(final_name)
                                                         ? "cannot write: this is a folder; give a file name"
                                                         : "cannot write: not a regular file; give a file name"));
    }
    if (!final_name.has_filename()) {
        throw MachineError(at({final_name.string()}, "cannot write: no file name given"));
    }
    return final_name;
}

std::filesystem::path folder_of(const std::filesystem::path& file) {
    return file.has_parent_path() ? file.parent_path() : std::filesystem::path(".");
}

}  // namespace

AtomicFile::AtomicFile(std::filesystem::path final_name) : final_(resolve(std::move(final_name))), slot_(no_slot) {
    static std::atomic<unsigned> counter{0};
    std::error_code error;
    std::filesystem::create_directories(folder_of(final_), error);
    if (error) {
        refuse(folder_of(final_), "cannot create this folder", error.value());
    }
    // File systems allow 255 bytes in a name: leave room for the ending.
    const std::string stem = final_.filename().string().substr(0, 200);
    temporary_ =
        folder_of(final_) / (stem + ".part-" + std::to_string(getpid()) + '-' + std::to_string(counter.fetch_add(1)));
    slot_ = remember(temporary_.string());
    const Descriptor created(open(temporary_.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0666));
    if (created.number() < 0) {
        const int reason = errno;
        forget(slot_);
        refuse(final_, "cannot create", reason);
    }
}

AtomicFile::~AtomicFile() {
    if (!temporary_.empty()) {
        unlink(temporary_.c_str());
        forget(slot_);
    }
}

AtomicFile::AtomicFile(AtomicFile&& other) noexcept
    : final_(std::move(other.final_)),
      temporary_(std::exchange(other.temporary_, {})),
      slot_(std::exchange(other.slot_, no_slot)) {}

AtomicFile& AtomicFile::operator=(AtomicFile&& other) noexcept {
    std::swap(final_, other.final_);
    std::swap(temporary_, other.temporary_);
    std::swap(slot_, other.slot_);
    return *this;
}

void AtomicFile::commit() {
    Descriptor file(open(temporary_.c_str(), O_RDONLY | O_CLOEXEC));
    if (file.number() < 0 || fsync(file.number()) != 0 || !file.close()) {
        refuse(final_, "cannot write", errno);
    }
    if (rename(temporary_.c_str(), final_.c_str()) != 0) {
        refuse(final_, "cannot put the finished file under its name", errno);
    }
    forget(slot_);
    temporary_.clear();
    // The rename itself reaches the disk with the folder; a file system that cannot sync a folder is no reason to fail.
    const Descriptor folder(open(folder_of(final_).c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC));
    if (folder.number() >= 0) {
        fsync(folder.number());
    }
}

void write_file(const std::filesystem::path& path, std::span<const char> bytes) {
    AtomicFile output(path);
    Descriptor file(open(output.temporary().c_str(), O_WRONLY | O_TRUNC | O_CLOEXEC));
    if (file.number() < 0) {
        refuse(path, "cannot write", errno);
    }
    while (!bytes.empty()) {
        const ssize_t written = write(file.number(), bytes.data(), bytes.size());
        if (written < 0 && errno == EINTR) {
            continue;
        }
        if (written <= 0) {
            refuse(path, "cannot write", written < 0 ? errno : ENOSPC);
        }
        bytes = bytes.subspan(static_cast<std::size_t>(written));
    }
    if (!file.close()) {
        refuse(path, "cannot write", errno);
    }
    output.commit();
}

void discard_temporaries() noexcept {
    for (Slot& slot : slots()) {
        if (slot.state.load() == Slot::named) {
            unlink(slot.name.data());
        }
    }
}

}  // namespace echoloom
