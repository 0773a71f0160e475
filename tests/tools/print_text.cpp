/// What reaches a terminal is text.
#include "tools/commands/print_text.h"

#include <doctest/doctest.h>

#include <cstdio>
#include <random>
#include <string>

using needleturn::printable;

TEST_CASE("what a terminal obeys is spelt out and all else stays") {
    CHECK(printable("\x1b[31mred\x07\r\n\tend\x7f") == "\\x1b[31mred\\x07\\x0d\n\tend\\x7f");
    CHECK(printable("\u009b31m") == "\\xc2\\x9b31m"); // C1: CSI in one character
    CHECK(printable("\x9b"
                    "31m")
          == "\\x9b31m"); // the same in an encoding of eight bits
    CHECK(printable("a\u202ecba\u2066") == "a\\xe2\\x80\\xaecba\\xe2\\x81\\xa6");
    for (const std::string text :
         {"plain", "Gewächshaus 1½ °C – “x”", "温室", "\U0001F6B0", "\u00a0", "\u2028"})
        CHECK(printable(text) == text);
    CHECK(printable("cut \xe2\x82") == "cut \\xe2\\x82"); // UTF-8 that ends within a character
    CHECK(printable("\xc0\x9b") == "\\xc0\\x9b");         // longer than it must be
    CHECK(printable("\xf8x") == "\\xf8x");
}

TEST_CASE("whatever bytes are printed none of them is a control character") {
    const auto seed = std::random_device{}();
    std::printf("seed: %u\n", seed);
    std::mt19937 random(seed);
    for (int i = 0; i < 20000; ++i) {
        std::string text(random() % 12, ' ');
        for (auto& c : text)
            c = static_cast<char>(random() % 3 == 0 ? 0x80 + random() % 0x80 : random() % 256);
        const auto shown = printable(text);
        for (std::size_t k = 0; k < shown.size(); ++k) {
            const auto byte = static_cast<unsigned char>(shown[k]);
            REQUIRE((byte >= 0x20 || byte == '\n' || byte == '\t'));
            REQUIRE(byte != 0x7f);
            // A byte of 0x80 to 0x9f only within a character.
            REQUIRE(
                (byte < 0x80 || byte > 0x9f || (k > 0 && static_cast<unsigned char>(shown[k - 1]) >= 0x80)));
            REQUIRE(!(byte == 0xc2 && static_cast<unsigned char>(shown[k + 1]) < 0xa0));
        }
        REQUIRE(printable(shown) == shown);
    }
}
