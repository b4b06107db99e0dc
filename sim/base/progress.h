#pragma once
/// Progress of long work on standard error: a bar with time left on a terminal, else one line per tenth of the work.

#include <chrono>
#include <cstddef>
#include <string>

namespace echoloom {

class Progress {
  public:
    /// Silent where `quiet`. Nothing is drawn for work that ends within half a second.
    Progress(std::string task, std::size_t total, bool quiet = false);
    ~Progress();  ///< clears the bar
    Progress(const Progress&) = delete;
    Progress& operator=(const Progress&) = delete;
    void advance(std::size_t steps = 1);  ///< one thread only

  private:
    void draw();
    std::string task_;
    std::size_t total_;
    std::size_t done_ = 0;
    std::size_t last_tenth_ = 0;
    bool quiet_;
    bool terminal_;
    bool drawn_ = false;
    std::chrono::steady_clock::time_point start_;
    std::chrono::steady_clock::time_point last_draw_;
};

}  // namespace echoloom
