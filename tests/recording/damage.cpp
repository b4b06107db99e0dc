#include "tests/recording/damage.h"

#include <fstream>
#include <sstream>

#include "sim/base/error.h"
#include "sim/base/random.h"

namespace echoloom::recording_tests {

namespace {

std::string contents(const std::string& file) {
    std::ostringstream text;
    text << std::ifstream(file, std::ios::binary).rdbuf();
    return text.str();
}

void judge(DamageCount& count, const std::string& bytes, const std::string& scratch, std::size_t place,
           const std::string& expected, const std::function<std::string(const std::string&)>& read) {
    std::ofstream(scratch, std::ios::binary | std::ios::trunc) << bytes;
    try {
        if (read(scratch) == expected) {
            ++count.unharmed;
            return;
        }
        ++count.wrong;
        count.first_wrong = "byte " + std::to_string(place);
    } catch (const InputError&) {
        ++count.refused;
    } catch (const MachineError& error) {
        ++count.machine;
        count.first_wrong = "byte " + std::to_string(place) + ": " + error.what();
    }
}

}  // namespace

DamageCount flip_bits(const std::string& file, const std::string& scratch, std::size_t step,
                      const std::function<std::string(const std::string&)>& read) {
    const CounterRandom bits(1, 1);
    const std::string expected = read(file);
    std::string bytes = contents(file);
    DamageCount count;
    for (std::size_t place = 0; place < bytes.size(); place += step) {
        const char before = bytes[place];
        bytes[place] = static_cast<char>(before ^ (1 << (bits.bits(place) % 8)));
        judge(count, bytes, scratch, place, expected, read);
        bytes[place] = before;
    }
    return count;
}

DamageCount cut_short(const std::string& file, const std::string& scratch, std::size_t step,
                      const std::function<std::string(const std::string&)>& read) {
    const std::string expected = read(file);
    const std::string bytes = contents(file);
    DamageCount count;
    for (std::size_t length = 0; length < bytes.size(); length += step) {
        judge(count, bytes.substr(0, length), scratch, length, expected, read);
    }
    return count;
}

}  // namespace echoloom::recording_tests
