/// A digest that lies in the file it speaks of, so that damage is seen before anything else reads the file.
///
///     needleturn digest 1, bytes 00000000000000123456, SHA-256 with these digits as 0: <64 hexadecimal digits>
///
/// This text stands within the first 16 KiB of every HDF5 file of this program (dataset /integrity/digest). The digits are
/// the SHA-256 (FIPS 180-4, computed by OpenSSL) of all bytes of the file, the 64 digits themselves taken as "0". It tells
/// damage; it does not tell who wrote the file, for anybody can compute it.
///
/// Files of 0.1.0 have no digest and an HDF5 superblock of version 0. No file with a digest has such a superblock, so a file of
/// another version whose digest cannot be found is damaged.
#pragma once

#include <cstddef>
#include <filesystem>
#include <span>
#include <string>

namespace needleturn::sim {

/// The SHA-256 of some bytes, hexadecimal.
std::string sha256(std::span<const std::byte> bytes);

/// The text before it is filled in: size and digits as zeros.
std::string blank_digest();

/// Fills in the digest of a finished file that holds blank_digest() at byte `place`. Throws std::system_error when the file
/// cannot be read or written.
void seal_file(const std::filesystem::path& path, std::size_t place);

struct Wholeness {
    enum class Kind {
        whole,   ///< the digest is that of the file
        unknown, ///< the file has no digest: it is of 0.1.0, or of another program
        damaged
    };
    Kind kind = Kind::unknown;
    std::string why; ///< of damaged: "is cut short: 1000 of 2000 bytes are there", ...
};

/// Throws std::runtime_error, one line, when there is no such file or it cannot be read.
Wholeness wholeness_of(const std::filesystem::path& path);

} // namespace needleturn::sim
