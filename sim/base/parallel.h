#pragma once
/// Exceptions may not leave an OpenMP region: it would end the program without a word.

#include <atomic>
#include <cstddef>
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
        if (failed_) {
            return;
        }
        try {
            std::forward<Work>(work)();
        } catch (...) {
            const std::lock_guard lock(mutex_);
            if (!failure_) {
                failure_ = std::current_exception();
                failed_ = true;
            }
        }
    }

    /// Call on one thread, after the region.
    void rethrow() {
        if (failure_) {
            failed_ = false;
            std::rethrow_exception(std::exchange(failure_, nullptr));
        }
    }

  private:
    std::atomic<bool> failed_ = false;
    std::mutex mutex_;
    std::exception_ptr failure_;
};

/// Calls work(index) for every index below `count` on all threads, `chunk` of them at a time.
template <class Work>
void for_each_in_parallel(std::size_t count, Work&& work, int chunk = 1) {
    FirstFailure failure;
#pragma omp parallel for schedule(dynamic, chunk)
    for (std::size_t i = 0; i < count; ++i) {
        failure.run([&] { work(i); });
    }
    failure.rethrow();
}

}  // namespace echoloom
