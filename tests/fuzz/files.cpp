/// Readers of files that the program itself has written, and that something has happened to since.
#include "sim/journal.h"
#include "tests/fuzz/finding.h"
#include "tests/fuzz/targets.h"
#include "tests/own_folder.h"

#include <fstream>
#include <map>
#include <vector>

namespace needleturn::fuzz {

void journal(std::string_view bytes) {
    constexpr std::uint64_t capacity = 20;
    static const tests::OwnFolder folder;
    const auto path = folder / "journal";
    std::filesystem::remove(path);
    std::ofstream(path, std::ios::binary) << bytes;
    const auto contents = [](const sim::Journal& journal) {
        std::map<std::uint64_t, std::vector<std::byte>> all;
        for (std::uint64_t i = 0; i < capacity; ++i)
            if (journal.holds(i))
                all[i] = journal[i];
        require(all.size() == journal.size(), "a journal that miscounts its records");
        return all;
    };
    try {
        const auto found = contents({path, "of this", capacity, sim::Journal::Use::read});
        require(tests::bytes_in(path) == bytes, "a journal is changed by being read");
        auto wanted = found;
        {
            sim::Journal again(path, "of this", capacity);
            require(contents(again) == found, "a journal reads and writes from different records");
            for (std::uint64_t i = 0; i < capacity; ++i)
                if (!again.holds(i))
                    again.append(i, wanted[i] = std::vector<std::byte>(i % 3, std::byte(i)));
        }
        require(contents({path, "of this", capacity, sim::Journal::Use::read}) == wanted,
                "a damaged journal that is filled up does not give back what was put in");
    } catch (const std::logic_error&) {
        throw;
    } catch (const std::runtime_error& error) {
        require_one_line(error.what());
        // Of a beginning that was cut short a new journal is made; nothing else is touched.
        try {
            const sim::Journal begun(path, "of this", capacity);
            require(begun.size() == 0, "a journal that cannot be read but written");
        } catch (const std::runtime_error& refused) {
            require_one_line(refused.what());
            require(tests::bytes_in(path) == bytes, "a file that is refused is changed");
        }
    }
}

} // namespace needleturn::fuzz
