#include "sim/base/background_digest.h"

#include <omp.h>

#include <utility>

namespace echoloom {

namespace {

/// Room for events that are made faster than they are taken in, for a moment.
constexpr std::size_t max_queued_bytes = std::size_t{16} << 20;

}  // namespace

BackgroundDigest::BackgroundDigest() : beside_(omp_get_max_threads() > 1) {}

BackgroundDigest::~BackgroundDigest() {
    {
        const std::lock_guard lock(mutex_);
        queue_.clear();
    }
    stop();
}

void BackgroundDigest::update(std::span<const std::byte> bytes) {
    if (!beside_) {
        digest_.update(bytes);
        return;
    }
    std::vector<std::byte> copy(bytes.begin(), bytes.end());
    {
        std::unique_lock lock(mutex_);
        changed_.wait(lock, [&] { return queue_.empty() || queued_bytes_ + copy.size() <= max_queued_bytes; });
        queued_bytes_ += copy.size();
        queue_.push_back(std::move(copy));
    }
    changed_.notify_all();
    if (!worker_.joinable()) {
        worker_ = std::thread([this] { work(); });
    }
}

Sha256 BackgroundDigest::finish() {
    stop();
    if (failure_) {
        std::rethrow_exception(failure_);
    }
    return std::move(digest_);
}

void BackgroundDigest::work() {
    for (;;) {
        std::vector<std::byte> bytes;
        {
            std::unique_lock lock(mutex_);
            changed_.wait(lock, [&] { return ended_ || !queue_.empty(); });
            if (queue_.empty()) {
                return;
            }
            bytes = std::move(queue_.front());
            queue_.pop_front();
            queued_bytes_ -= bytes.size();
        }
        changed_.notify_all();
        try {
            digest_.update(bytes);
        } catch (...) {
            failure_ = std::current_exception();  // read only after the thread has ended
        }
    }
}

void BackgroundDigest::stop() {
    {
        const std::lock_guard lock(mutex_);
        ended_ = true;
    }
    changed_.notify_all();
    if (worker_.joinable()) {
        worker_.join();
    }
}

}  // namespace echoloom
