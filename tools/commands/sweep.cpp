#include "tools/commands/sweep.h"

#include "sim/cases_file.h"
#include "sim/guarded_read.h"
#include "sim/journal.h"
#include "tools/commands/cases_progress.h"
#include "tools/commands/exit_code.h"
#include "tools/commands/interruption.h"
#include "tools/commands/print_text.h"
#include "tools/commands/warnings_text.h"
#include "tools/studies/kept_cases.h"
#include "tools/studies/sweep_case.h"

#include <fmt/format.h>

#include <algorithm>
#include <atomic>
#include <charconv>
#include <exception>
#include <filesystem>
#include <memory>
#include <mutex>
#include <optional>
#include <stdexcept>
#include <string>
#include <system_error>
#include <thread>
#include <utility>
#include <vector>

namespace needleturn {

namespace {

namespace fs = std::filesystem;

/// Part i of n: the cases whose number leaves i - 1 when divided by n.
struct Shard {
    std::size_t number = 1, of = 1;
};

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

/// Where finished cases are kept until the file is whole.
fs::path journal_of(const fs::path& output, Shard shard) {
    auto path = output;
    return path.concat(shard.of == 1 ? ".journal" : fmt::format(".part-{}-of-{}", shard.number, shard.of));
}

/// Somebody asks to end while the file is written; it is as if it had not been begun.
struct Interrupted {};

int goes_on(const fs::path& path, std::size_t done) {
    print_text(stderr, "{}: interrupted with {} cases done; the same command goes on from there\n",
               path.string(), done);
    return exit_incomplete;
}

std::string header_of(const Sweep& sweep, Shard shard) {
    return fmt::format("shard {}/{}\n{}", shard.number, shard.of, sweep.identity);
}

sim::Journal open_journal(const Sweep& sweep, const fs::path& path, Shard shard, sim::Journal::Use use) {
    return {path, header_of(sweep, shard), sweep.study.cases(), use};
}

/// Runs what the journal does not hold yet; false if it was interrupted first.
bool run_missing(const Sweep& sweep, sim::Journal& journal, Shard shard, unsigned threads) {
    std::vector<std::size_t> none;
    const std::size_t all = sweep.study.cases();
    const std::size_t due = (all - shard.number + shard.of) / shard.of;
    CasesProgress progress(journal.size(), due);
    std::atomic<std::size_t> next{shard.number - 1};
    std::mutex mutex;
    std::exception_ptr failure;
    const auto work = [&] {
        Cases cases(sweep.study);
        const auto take = [&]() -> std::optional<std::size_t> {
            for (;;) {
                const std::size_t number = next.fetch_add(shard.of);
                if (number >= all)
                    return {};
                const std::scoped_lock lock(mutex);
                if (!journal.holds(number))
                    return number;
            }
        };
        const auto keep = [&](std::size_t number, const sim::CaseRows& rows) {
            const std::scoped_lock lock(mutex);
            if (interrupted() || failure)
                return false;
            try {
                journal.append(number, bytes_of(rows));
                progress.one_more();
            } catch (...) {
                failure = std::current_exception();
            }
            return !failure;
        };
        run_cases(sweep, cases, {take, keep, [] { return !interrupted(); }});
    };
    std::vector<std::jthread> crew;
    for (unsigned i = 1; i < threads; ++i)
        crew.emplace_back(work);
    work();
    crew.clear();
    if (failure)
        std::rethrow_exception(failure);
    journal.sync();
    return journal.size() == due;
}

/// The signals that a study keeps, case after case.
class KeptCourses {
  public:
    explicit KeptCourses(const Sweep& sweep)
        : sweep_{&sweep}, kept_(sweep.study.keep, sweep.per_case, sweep.per_event), cases_(sweep.study) {}

    void see(std::size_t number, const sim::CaseRows& rows) { kept_.see(number, rows); }

    /// False: there are no more. Throws Interrupted.
    bool next(sim::KeptSignals& signals) {
        if (!progress_) {
            chosen_ = kept_.chosen();
            progress_.emplace(0, chosen_.size(), "cases whose signals are kept");
        }
        while (next_ < chosen_.size()) {
            auto found =
                signals_of_case(*sweep_, cases_, chosen_[next_++], [](double) { return !interrupted(); });
            if (interrupted())
                throw Interrupted{};
            progress_->one_more();
            if (!found)
                continue;
            signals = std::move(*found);
            ++done_;
            return true;
        }
        progress_.reset();
        return false;
    }

    /// "": nothing was to be kept.
    std::string text() const {
        if (!sweep_->study.keep.any())
            return "";
        const auto left_out = kept_.left_out();
        return fmt::format("signals of {} cases are kept{}\n", done_,
                           left_out == 0 ? ""
                                         : fmt::format("; {} more were to be, keep.most is {}", left_out,
                                                       sweep_->study.keep.most));
    }

  private:
    const Sweep* sweep_;
    KeptCases kept_;
    Cases cases_;
    std::vector<std::size_t> chosen_;
    std::size_t next_ = 0, done_ = 0;
    std::optional<CasesProgress> progress_;
};

/// Writes the file of cases from journals that together hold every case, and says how the cases went. Throws Interrupted.
void write_study(const Sweep& sweep, const fs::path& output, const std::vector<sim::Journal>& journals) {
    std::size_t passed = 0, broken = 0, failed = 0;
    const auto failure = place_of(sweep.per_case, "failure");
    const auto pass = place_of(sweep.per_case, "passed");
    const auto breaks = place_of(sweep.per_event, "broken");
    KeptCourses kept(sweep);
    sim::write_cases(
        output, layout_of(sweep),
        [&](std::size_t number) {
            auto rows = rows_from(sweep, journals[number % journals.size()][number]);
            if (!rows.self.words[failure].empty())
                ++failed;
            else if (rows.self.numbers[pass] > 0)
                ++passed;
            else if (std::ranges::any_of(rows.events,
                                         [&](const auto& event) { return !event.words[breaks].empty(); }))
                ++broken;
            kept.see(number, rows);
            return rows;
        },
        [&](sim::KeptSignals& signals) { return kept.next(signals); });
    const std::size_t all = sweep.study.cases();
    print_text("{}{}: {} cases: {} keep every limit, {} break one, {} are undecided, {} could not be run to "
               "their end\n",
               warnings_text(sweep.base), output.string(), all, passed, broken,
               all - passed - broken - failed, failed);
    print_text("{}", kept.text());
}

/// The file at `output` if it is this study's and done with; refuses to replace the file of another one.
bool is_done(const Sweep& sweep, const fs::path& output) {
    if (!fs::exists(output))
        return false;
    sim::require_whole(output);
    if (sim::cases_attribute(output, "identity") != sweep.identity)
        throw std::runtime_error(fmt::format("{}: is there already and not of this study, scenario and "
                                             "program; move it away or name another output",
                                             output.string()));
    return true;
}

/// Of a finished sweep, whose file is there.
void remove_journal(const fs::path& path) {
    std::error_code error;
    fs::remove(path, error);
    if (error)
        throw std::runtime_error(fmt::format("{}: is no longer needed, but cannot be removed: {}",
                                             path.string(), error.message()));
}

int complete_already(const fs::path& output) {
    print_text("{}: complete already\n", output.string());
    return exit_passed;
}

int run_sweep(const SweepOptions& options) {
    const auto shard = shard_from(options.shard);
    const auto sweep = read_sweep(options.study);
    const auto output = output_of(options);
    const auto path = journal_of(output, shard);
    const auto done = [&] { return shard.of == 1 && is_done(sweep, output); };
    // Asked before a journal is begun: the file of another study ends it here.
    if (done() && !fs::exists(path))
        return complete_already(output);
    std::vector<sim::Journal> journals;
    journals.push_back(open_journal(sweep, path, shard, sim::Journal::Use::write));
    // And again: until the journal was locked another process may have finished the sweep.
    if (done()) {
        remove_journal(path);
        return complete_already(output);
    }
    const unsigned threads =
        options.threads > 0 ? options.threads : std::max(1u, std::thread::hardware_concurrency());
    if (!run_missing(sweep, journals.front(), shard, threads))
        return goes_on(path, journals.front().size());
    if (shard.of > 1) {
        print_text("{}: {} cases, part {} of {}; needleturn join puts the parts together\n", path.string(),
                   journals.front().size(), shard.number, shard.of);
        return exit_passed;
    }
    try {
        write_study(sweep, output, journals);
    } catch (const Interrupted&) {
        return goes_on(path, journals.front().size());
    }
    remove_journal(path);
    return exit_passed;
}

int run_join(const SweepOptions& options) {
    const auto parts = parts_from(options.parts);
    const auto sweep = read_sweep(options.study);
    const auto output = output_of(options);
    if (is_done(sweep, output))
        return complete_already(output);
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
    try {
        write_study(sweep, output, journals);
    } catch (const Interrupted&) {
        return goes_on(output, sweep.study.cases());
    }
    return exit_passed;
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
