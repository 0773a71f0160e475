#include "sim/digest.h"

#include "sim/file_bytes.h"

#include <algorithm>
#include <array>
#include <cerrno>
#include <charconv>
#include <fcntl.h>
#include <fmt/format.h>
#include <memory>
#include <openssl/evp.h>
#include <optional>
#include <span>
#include <stdexcept>
#include <string_view>
#include <system_error>
#include <unistd.h>
#include <vector>

namespace needleturn::sim {

namespace {

namespace fs = std::filesystem;

constexpr std::string_view begins = "needleturn digest 1, bytes ";
constexpr std::string_view goes_on = ", SHA-256 with these digits as 0: ";
constexpr std::size_t size_digits = 20; // of 2^64 - 1
constexpr std::size_t hash_digits = 64;
constexpr std::size_t hash_place = begins.size() + size_digits + goes_on.size();
constexpr std::size_t length = hash_place + hash_digits;
constexpr std::size_t searched = 16384; // bytes from the file's beginning

/// An open file that closes itself.
class Descriptor {
  public:
    Descriptor(const fs::path& path, int how) : number_{::open(path.c_str(), how | O_CLOEXEC)} {
        if (number_ < 0)
            throw std::system_error(errno, std::generic_category());
    }
    Descriptor(const Descriptor&) = delete;
    Descriptor& operator=(const Descriptor&) = delete;
    ~Descriptor() { ::close(number_); }

    int number() const { return number_; }

  private:
    int number_;
};

void check(int result) {
    if (result != 1)
        throw std::runtime_error("SHA-256 is not to be had from OpenSSL");
}

/// SHA-256 of bytes that come piece by piece.
class Sha256 {
  public:
    Sha256() {
        if (!context_)
            throw std::bad_alloc();
        check(EVP_DigestInit_ex(context_.get(), EVP_sha256(), nullptr));
    }
    void take(const void* bytes, std::size_t size) { check(EVP_DigestUpdate(context_.get(), bytes, size)); }
    std::string hexadecimal() {
        std::array<unsigned char, EVP_MAX_MD_SIZE> hash{};
        unsigned bytes = 0;
        check(EVP_DigestFinal_ex(context_.get(), hash.data(), &bytes));
        std::string text;
        for (unsigned i = 0; i < bytes; ++i)
            text += fmt::format("{:02x}", hash[i]);
        return text;
    }

  private:
    std::unique_ptr<EVP_MD_CTX, decltype(&EVP_MD_CTX_free)> context_{EVP_MD_CTX_new(), EVP_MD_CTX_free};
};

/// Of the file, the digits at byte `digits` taken as "0".
std::string hash_of(const Descriptor& file, std::size_t digits) {
    Sha256 hash;
    std::vector<char> piece(1 << 20);
    for (std::size_t begin = 0;;) {
        const auto size = read_at(file.number(), std::as_writable_bytes(std::span(piece)), begin);
        if (size == 0)
            break;
        for (std::size_t i = std::max(begin, digits); i < std::min(begin + size, digits + hash_digits); ++i)
            piece[i - begin] = '0';
        hash.take(piece.data(), size);
        begin += size;
    }
    return hash.hexadecimal();
}

/// The bytes among which a digest is looked for.
std::string head_of(const Descriptor& file) {
    std::string head(searched, '\0');
    head.resize(read_at(file.number(), std::as_writable_bytes(std::span(head)), 0));
    return head;
}

std::string size_text(std::size_t size) { return fmt::format("{:020}", size); }

struct DigestMark {
    std::size_t place = 0;
    std::size_t size = 0;
    std::string hash;
};

std::optional<DigestMark> mark_in(std::string_view head) {
    const auto place = head.find(begins);
    if (place == std::string_view::npos || head.size() - place < length)
        return std::nullopt;
    const auto text = head.substr(place, length);
    DigestMark mark{place, 0, std::string(text.substr(hash_place))};
    const auto digits = text.substr(begins.size(), size_digits);
    const auto [end, error] = std::from_chars(digits.data(), digits.data() + digits.size(), mark.size);
    if (error != std::errc{} || end != digits.data() + digits.size()
        || text.substr(begins.size() + size_digits, goes_on.size()) != goes_on)
        return std::nullopt;
    return mark;
}

constexpr std::string_view signature = "\x89HDF\r\n\x1a\n";

} // namespace

std::string sha256(std::span<const std::byte> bytes) {
    Sha256 hash;
    hash.take(bytes.data(), bytes.size());
    return hash.hexadecimal();
}

std::string blank_digest() {
    return fmt::format("{}{}{}{}", begins, size_text(0), goes_on, std::string(hash_digits, '0'));
}

void seal_file(const fs::path& path, std::size_t place) {
    const Descriptor file(path, O_RDWR);
    const auto head = head_of(file);
    if (const auto mark = mark_in(head); !mark || mark->place != place)
        throw std::logic_error("a digest is to be found by its place");
    const auto put = [&](std::string_view text, std::size_t at) {
        write_at(file.number(), std::as_bytes(std::span(text)), at);
    };
    put(size_text(length_of(file.number())), place + begins.size());
    put(hash_of(file, place + hash_place), place + hash_place);
}

Wholeness wholeness_of(const fs::path& path) {
    using Kind = Wholeness::Kind;
    try {
        const Descriptor file(path, O_RDONLY);
        const auto head = head_of(file);
        const auto mark = mark_in(head);
        if (!mark) {
            const bool sealed_version =
                head.starts_with(signature) && head.size() > signature.size() && head[signature.size()] != 0;
            return sealed_version ? Wholeness{Kind::damaged, "is damaged: its digest is not to be found"}
                                  : Wholeness{};
        }
        const auto size = length_of(file.number());
        if (size < mark->size)
            return {Kind::damaged, fmt::format("is cut short: {} of {} bytes are there", size, mark->size)};
        if (size > mark->size || hash_of(file, mark->place + hash_place) != mark->hash)
            return {Kind::damaged, "is damaged or was changed: its content does not agree with its digest"};
        return {Kind::whole, ""};
    } catch (const std::system_error& error) {
        throw std::runtime_error(fmt::format("{}: cannot be read: {}", path.string(),
                                             std::generic_category().message(error.code().value())));
    }
}

} // namespace needleturn::sim
