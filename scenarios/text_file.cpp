#include "scenarios/text_file.h"

#include "scenarios/read_scenario.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <cstdio>
#include <cstring>
#include <memory>
#include <system_error>

namespace needleturn::scenarios {

namespace {

constexpr std::size_t largest = std::size_t{8} << 20;

bool no_text(char c) {
    const auto byte = static_cast<unsigned char>(c);
    return byte < 0x20 && byte != '\t' && byte != '\n' && byte != '\r';
}

} // namespace

std::string read_text_file(const std::filesystem::path& path) {
    const auto fail = [&](std::string_view why) {
        throw ScenarioError(fmt::format("{}: {}", path.string(), why));
    };
    std::error_code ignored;
    if (std::filesystem::is_directory(path, ignored))
        fail("is a folder; a file is wanted");
    // The C streams say why a file does not open; those of C++ do not.
    const std::unique_ptr<std::FILE, int (*)(std::FILE*)> file{std::fopen(path.c_str(), "rb"), &std::fclose};
    if (!file)
        fail(errno == ENOENT ? "no such file" : std::strerror(errno));
    std::string text;
    std::array<char, 16384> piece{};
    for (std::size_t got = 1; got > 0 && text.size() <= largest;) {
        got = std::fread(piece.data(), 1, piece.size(), file.get());
        text.append(piece.data(), got);
    }
    if (std::ferror(file.get()) != 0)
        fail(std::strerror(errno));
    if (std::any_of(text.begin(), text.end(), no_text))
        fail("is not a text file");
    if (text.size() > largest)
        fail("is larger than 8 MB, too large for a text of keys and values");
    if (std::all_of(text.begin(), text.end(),
                    [](char c) { return c == ' ' || c == '\t' || c == '\n' || c == '\r'; }))
        fail("is empty");
    return text;
}

} // namespace needleturn::scenarios
