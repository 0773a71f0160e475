/// Runs the cases of a sweep into its file: in lanes and threads, kept in a journal until the file is whole, so that the same call
/// goes on where an interrupted one ended.
#pragma once

#include "sim/journal.h"
#include "tools/studies/sweep_case.h"

#include <cstddef>
#include <filesystem>
#include <string>
#include <vector>

namespace needleturn {

/// Part i of n: the cases whose number leaves i - 1 when divided by n.
struct Shard {
    std::size_t number = 1, of = 1;
};

/// How a sweep ended.
struct SweepEnd {
    enum class How {
        interrupted, ///< and said so on standard error; the journal holds what is done
        part,        ///< a part of several is whole in its journal
        there,       ///< the file was there already
        written
    };
    How how = How::written;
    std::size_t cases = 0; ///< done, of a part
    std::string words;     ///< how the cases went, lines; of a file that was written
};

/// Where finished cases are kept until the file is whole.
std::filesystem::path journal_of(const std::filesystem::path& output, Shard shard);

sim::Journal open_journal(const Sweep& sweep, const std::filesystem::path& path, Shard shard,
                          sim::Journal::Use use);

/// The file at `output` if it is this study's and done with; refuses to replace the file of another one.
bool is_done(const Sweep& sweep, const std::filesystem::path& output);

/// Writes the file of cases from journals that together hold every case.
SweepEnd write_study(const Sweep& sweep, const std::filesystem::path& output,
                     const std::vector<sim::Journal>& journals);

/// Runs what is missing and writes the file at `output`, or one part into its journal. `threads` 0: one per processor.
SweepEnd run_into_file(const Sweep& sweep, const std::filesystem::path& output, unsigned threads,
                       Shard shard = {});

} // namespace needleturn
