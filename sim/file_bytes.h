/// The bytes of an open file, read and written whole: the system may do a part of it at a time, or be interrupted. All throw
/// std::system_error.
#pragma once

#include <cstddef>
#include <cstdint>
#include <span>

namespace needleturn::sim {

/// Bytes in the file.
std::uint64_t length_of(int descriptor);

/// Fills `bytes` from byte `place` of the file on; returns how many there were, fewer where the file ends.
std::size_t read_at(int descriptor, std::span<std::byte> bytes, std::uint64_t place);

/// Writes them from byte `place` of the file on.
void write_at(int descriptor, std::span<const std::byte> bytes, std::uint64_t place);

/// Writes them where the descriptor stands.
void write_on(int descriptor, std::span<const std::byte> bytes);

} // namespace needleturn::sim
