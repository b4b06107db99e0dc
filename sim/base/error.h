#pragma once
/// The one family of exceptions. What the user wrote wrong is an InputError (exit code 2); what the machine refused (a
/// full disk, too little memory, a file it may not open) is a MachineError (exit code 3). A file that does not exist
/// was written wrong.

#include <stdexcept>
#include <string>

namespace echoloom {

/// Where in what the user wrote something is wrong; empty parts are left out of the message.
struct Place {
    std::string file{};
    int line = 0;  ///< 1-based; 0 where no line is known
    std::string key{};
};

/// "FILE:LINE: KEY: what", the form of every error line.
std::string at(const Place& place, const std::string& what);

class Error : public std::runtime_error {
  public:
    Error(const std::string& message, int exit_code) : std::runtime_error(message), exit_code_(exit_code) {}
    int exit_code() const noexcept { return exit_code_; }

  private:
    int exit_code_;
};

/// Something the user wrote cannot be used. `what` says what is wrong and what would be right.
class InputError : public Error {
  public:
    InputError(const Place& place, const std::string& what) : Error(at(place, what), 2) {}
    explicit InputError(const std::string& message) : Error(message, 2) {}
};

/// The machine refused: storage, memory, permissions.
class MachineError : public Error {
  public:
    explicit MachineError(const std::string& message) : Error(message, 3) {}
};

}  // namespace echoloom
