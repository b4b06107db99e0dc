#pragma once
/// The error a piece of work ends in, for exact comparison.

#include <functional>
#include <string>

#include "sim/base/error.h"

namespace echoloom {

/// "2 FILE:LINE: KEY: ..." with the exit code in front; "no error" where the work succeeds.
inline std::string message_of(const std::function<void()>& work) {
    try {
        work();
    } catch (const Error& error) {
        return std::to_string(error.exit_code()) + ' ' + error.what();
    }
    return "no error";
}

}  // namespace echoloom
