#pragma once
/// Exceptions may not leave an OpenMP region: it would end the program without a word.

#include <exception>
#include <mutex>
#include <utility>

namespace echoloom {

/// Keeps the first exception of a parallel region, to be thrown again after it.
class FirstFailure {
  public:
    /// Runs `work`; once something has failed, later work is skipped.
    template <class Work>
    void run(Work&& work) noexcept {
        if (failed()) {
            return;
        }
        try {
            std::forward<Work>(work)();
        } catch (...) {
            const std::lock_guard lock(mutex_);
            if (!failure_) {
                failure_ = std::current_exception();
            }
        }
    }

    /// Call on one thread, after the region.
    void rethrow() {
        if (failure_) {
            std::rethrow_exception(std::exchange(failure_, nullptr));
        }
    }

  private:
    bool failed() {
        const std::lock_guard lock(mutex_);
        return failure_ != nullptr;
    }
    std::mutex mutex_;
    std::exception_ptr failure_;
};

}  // namespace echoloom
