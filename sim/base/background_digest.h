#pragma once
/// A digest that is taken beside the work that makes the bytes.

#include <condition_variable>
#include <cstddef>
#include <deque>
#include <exception>
#include <mutex>
#include <span>
#include <thread>
#include <vector>

#include "sim/base/digest.h"

namespace echoloom {

/// Bytes are copied into a queue that a thread of its own takes them from, so that neither waits for the other on a
/// busy machine; only where the queue is full does update() wait. Where the program may use one thread only there is
/// none.
class BackgroundDigest {
  public:
    BackgroundDigest();
    ~BackgroundDigest();
    BackgroundDigest(const BackgroundDigest&) = delete;
    BackgroundDigest& operator=(const BackgroundDigest&) = delete;

    void update(std::span<const std::byte> bytes);
    /// The digest so far, once all bytes are in; nothing may follow.
    Sha256 finish();

  private:
    void work();
    void stop();

    const bool beside_;
    Sha256 digest_;
    std::mutex mutex_;
    std::condition_variable changed_;
    std::deque<std::vector<std::byte>> queue_;
    std::size_t queued_bytes_ = 0;
    bool ended_ = false;
    std::exception_ptr failure_;
    std::thread worker_;
};

}  // namespace echoloom
