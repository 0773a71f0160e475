#include "sim/spool.h"

#include "sim/file_bytes.h"

#include <algorithm>
#include <bit>
#include <cerrno>
#include <cstdlib>
#include <fcntl.h>
#include <fmt/format.h>
#include <stdexcept>
#include <string>
#include <system_error>
#include <unistd.h>
#include <utility>

namespace needleturn::sim {

namespace {

/// A file in `folder` without a name; a negative number where that cannot be.
int nameless(const std::filesystem::path& folder) {
    const int descriptor = ::open(folder.c_str(), O_TMPFILE | O_RDWR | O_CLOEXEC, 0600);
    if (descriptor >= 0 || (errno != EOPNOTSUPP && errno != EISDIR && errno != EINVAL))
        return descriptor;
    // A file system that knows only files with names.
    auto name = (folder / ".needleturn-XXXXXX").string();
    const int named = ::mkostemp(name.data(), O_CLOEXEC);
    if (named >= 0)
        ::unlink(name.c_str());
    return named;
}

bool all_the_same(const std::vector<double>& values) {
    const auto bits = std::bit_cast<std::uint64_t, double>;
    return std::ranges::all_of(values, [&](double value) { return bits(value) == bits(values.front()); });
}

} // namespace

Spool::Spool(std::filesystem::path folder, std::size_t signals)
    : folder_{folder.empty() ? std::filesystem::path(".") : std::move(folder)},
      signals_{signals},
      descriptor_{nameless(folder_)} {
    if (descriptor_ < 0)
        refuse(errno);
}

Spool::~Spool() {
    if (descriptor_ >= 0)
        ::close(descriptor_);
}

void Spool::refuse(int error) const {
    throw std::runtime_error(
        fmt::format("{}: the samples of the run cannot be kept in this folder: {}", folder_.string(),
                    error == ENOSPC ? "the disk is full" : std::generic_category().message(error)));
}

void Spool::append(const std::vector<std::vector<double>>& values) {
    for (const auto& samples : values) {
        if (samples.empty())
            return;
        if (all_the_same(samples)) {
            pieces_.push_back({-1, samples.front()});
            continue;
        }
        pieces_.push_back({end_, 0});
        const auto bytes = std::as_bytes(std::span(samples));
        try {
            write_at(descriptor_, bytes, static_cast<std::uint64_t>(end_));
        } catch (const std::system_error& error) {
            refuse(error.code().value());
        }
        end_ += static_cast<std::int64_t>(bytes.size());
    }
}

void Spool::read_piece(std::span<std::byte> to, std::int64_t place) const {
    try {
        if (read_at(descriptor_, to, static_cast<std::uint64_t>(place)) < to.size())
            refuse(EIO);
    } catch (const std::system_error& error) {
        refuse(error.code().value());
    }
}

void Spool::read(std::size_t signal, std::size_t begin, std::span<double> to) const {
    while (!to.empty()) {
        const auto& piece = pieces_.at(begin / samples_at_a_time * signals_ + signal);
        const std::size_t within = begin % samples_at_a_time;
        const auto part = to.first(std::min(to.size(), samples_at_a_time - within));
        if (piece.place < 0)
            std::ranges::fill(part, piece.value);
        else
            read_piece(std::as_writable_bytes(part),
                       piece.place + static_cast<std::int64_t>(within * sizeof(double)));
        begin += part.size();
        to = to.subspan(part.size());
    }
}

} // namespace needleturn::sim
