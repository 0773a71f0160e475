/// One of the functions of targets.h as a program for libFuzzer.
#include "tests/fuzz/targets.h"

#include <cstddef>
#include <cstdint>

// NOLINTNEXTLINE(readability-identifier-naming): libFuzzer's name
extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* bytes, std::size_t size) {
    needleturn::fuzz::NEEDLETURN_TARGET({reinterpret_cast<const char*>(bytes), size});
    return 0;
}
