#include "tools/commands/sweep.h"

#include "tools/commands/exit_code.h"
#include "tools/commands/print_text.h"
#include "tools/commands/sweep_file.h"
#include "tools/studies/sweep_case.h"

#include <fmt/format.h>

#include <charconv>
#include <cstdio>
#include <filesystem>
#include <memory>
#include <stdexcept>
#include <string>
#include <system_error>
#include <vector>

namespace needleturn {

namespace {

namespace fs = std::filesystem;

constexpr std::size_t most_parts = 100000;

struct SweepOptions {
    std::string study;
    std::string output;
    std::string shard;
    std::string parts;
    unsigned threads = 0;
};

Shard shard_from(const std::string& text) {
    Shard shard;
    if (text.empty())
        return shard;
    int used = 0;
    if (std::sscanf(text.c_str(), "%zu/%zu%n", &shard.number, &shard.of, &used) != 2
        || static_cast<std::size_t>(used) != text.size() || shard.of < 1 || shard.of > most_parts
        || shard.number < 1 || shard.number > shard.of)
        throw std::runtime_error(
            fmt::format("--shard {}: write which part of how many, e.g. --shard 1/4 ... 4/4", text));
    return shard;
}

std::size_t parts_from(const std::string& text) {
    std::size_t parts = 0;
    const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), parts);
    if (error != std::errc{} || end != text.data() + text.size() || parts < 1 || parts > most_parts)
        throw std::runtime_error(
            fmt::format("--parts {}: write how many parts there are, from 1 to {}", text, most_parts));
    return parts;
}

fs::path output_of(const SweepOptions& options) {
    return options.output.empty() ? fs::path(options.study).stem().concat(".h5") : fs::path(options.output);
}

/// What is printed of it, and the exit code.
int told(const SweepEnd& end, const fs::path& output, Shard shard) {
    using How = SweepEnd::How;
    if (end.how == How::there)
        print_text("{}: complete already\n", output.string());
    else if (end.how == How::part)
        print_text("{}: {} cases, part {} of {}; needleturn join puts the parts together\n",
                   journal_of(output, shard).string(), end.cases, shard.number, shard.of);
    else
        print_text("{}", end.words);
    return end.how == How::interrupted ? exit_incomplete : exit_passed;
}

int run_sweep(const SweepOptions& options) {
    const auto shard = shard_from(options.shard);
    const auto sweep = read_sweep(options.study);
    const auto output = output_of(options);
    return told(run_into_file(sweep, output, options.threads, shard), output, shard);
}

int run_join(const SweepOptions& options) {
    const auto parts = parts_from(options.parts);
    const auto sweep = read_sweep(options.study);
    const auto output = output_of(options);
    if (is_done(sweep, output))
        return told({SweepEnd::How::there, sweep.study.cases(), ""}, output, {});
    std::vector<sim::Journal> journals;
    for (std::size_t number = 1; number <= parts; ++number) {
        const Shard shard{number, parts};
        const auto path = journal_of(output, shard);
        if (!fs::exists(path))
            throw std::runtime_error(fmt::format("{}: missing; run the study with --shard {}/{} first",
                                                 path.string(), number, parts));
        const auto& journal =
            journals.emplace_back(open_journal(sweep, path, shard, sim::Journal::Use::read));
        for (std::size_t i = number - 1; i < sweep.study.cases(); i += parts)
            if (!journal.holds(i))
                throw std::runtime_error(
                    fmt::format("{}: case {} is missing; run this part to its end", path.string(), i));
    }
    return told(write_study(sweep, output, journals), output, {});
}

} // namespace

void add_sweep(Command program, std::function<int()>& action) {
    const auto options = std::make_shared<SweepOptions>();
    auto command = program.add_subcommand(
        "sweep", "run every case of a study into one HDF5 file; interrupted, the same command goes on");
    command.add_option("study", options->study, "study file (.toml)").required();
    command.add_option("-o,--output", options->output, "file of cases (default: <study>.h5 here)");
    command.add_option("-j,--threads", options->threads, "cases at a time (default: one per processor)")
        .within(1, 4096);
    command.add_option("--shard", options->shard, "run only part i of n, e.g. 2/4; join puts them together");
    command.callback([options, &action] { action = [options] { return run_sweep(*options); }; });
}

void add_join(Command program, std::function<int()>& action) {
    const auto options = std::make_shared<SweepOptions>();
    auto command = program.add_subcommand("join", "put the parts of a sharded sweep together");
    command.add_option("study", options->study, "the study file they were run with").required();
    command.add_option("-o,--output", options->output, "file of cases, as given to the parts");
    command.add_option("--parts", options->parts, "how many parts there are").required();
    command.callback([options, &action] { action = [options] { return run_join(*options); }; });
}

} // namespace needleturn
