/// Files without a header, and files as memory.

#include <fcntl.h>
#include <sys/mman.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>

#include "sim/import/number_array.h"

namespace echoloom {

namespace {

/// A file's descriptor, closed when it goes.
class Descriptor {
  public:
    explicit Descriptor(const std::filesystem::path& file) : number_(::open(file.c_str(), O_RDONLY | O_CLOEXEC)) {}
    ~Descriptor() {
        if (number_ >= 0) {
            ::close(number_);
        }
    }
    Descriptor(const Descriptor&) = delete;
    Descriptor& operator=(const Descriptor&) = delete;
    int number() const { return number_; }

  private:
    int number_;
};

}  // namespace

MappedFile map_file(const std::filesystem::path& file) {
    const Descriptor descriptor(file);
    struct stat status = {};
    if (descriptor.number() < 0 || ::fstat(descriptor.number(), &status) != 0) {
        const int reason = errno;
        if (reason == ENOENT || reason == ENOTDIR) {
            throw InputError({file.string()}, "no such file; give the file of samples by its path from the TOML file");
        }
        throw MachineError(at({file.string()}, std::string("cannot be read: ") + std::strerror(reason)));
    }
    if (!S_ISREG(status.st_mode) || status.st_size == 0) {
        throw InputError({file.string()}, S_ISREG(status.st_mode) ? "is empty; give the file that holds the samples"
                                                                  : "this is no file; give one that holds the samples");
    }
    const auto bytes = static_cast<std::size_t>(status.st_size);
    void* memory = ::mmap(nullptr, bytes, PROT_READ, MAP_PRIVATE, descriptor.number(), 0);
    if (memory == MAP_FAILED) {
        throw MachineError(at({file.string()}, std::string("cannot be read: ") + std::strerror(errno)));
    }
    MappedFile mapped;
    mapped.owner = std::shared_ptr<const void>(memory, [bytes](void* at) { ::munmap(at, bytes); });
    mapped.first = static_cast<const std::byte*>(memory);
    mapped.bytes = bytes;
    return mapped;
}

NumberArray open_raw(const std::filesystem::path& file, const RawLayout& layout) {
    const MappedFile mapped = map_file(file);
    std::size_t wanted = bytes_of(layout.type);
    for (const std::size_t extent : layout.shape) {
        if (__builtin_mul_overflow(wanted, extent, &wanted)) {
            wanted = static_cast<std::size_t>(-1);
            break;
        }
    }
    if (layout.header_bytes > mapped.bytes || mapped.bytes - layout.header_bytes != wanted) {
        throw InputError({file.string()}, "holds " + std::to_string(mapped.bytes) + " bytes, and " +
                                              shape_text(layout.shape) + " numbers of " + word_of(layout.type) +
                                              " after a header of " + std::to_string(layout.header_bytes) + " take " +
                                              std::to_string(wanted + layout.header_bytes) +
                                              "; correct samples.shape, samples.type or samples.header_bytes");
    }
    NumberArray array;
    array.name = file.string();
    array.type = layout.type;
    array.swapped = layout.big_endian;
    array.shape = layout.shape;
    array.stride = strides_last_fastest(array.shape);
    array.first = mapped.first + layout.header_bytes;
    array.owner = mapped.owner;
    return array;
}

}  // namespace echoloom
