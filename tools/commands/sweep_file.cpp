#include "tools/commands/sweep_file.h"

#include "scenarios/limits.h"
#include "sim/cases_file.h"
#include "sim/guarded_read.h"
#include "tools/commands/cases_progress.h"
#include "tools/commands/interruption.h"
#include "tools/commands/print_text.h"
#include "tools/commands/warnings_text.h"
#include "tools/results/sweep_layout.h"
#include "tools/studies/crew.h"
#include "tools/studies/kept_cases.h"

#include <fmt/format.h>

#include <algorithm>
#include <atomic>
#include <exception>
#include <map>
#include <mutex>
#include <optional>
#include <stdexcept>
#include <system_error>
#include <utility>

namespace needleturn {

namespace fs = std::filesystem;

namespace {

/// Somebody asks to end while the file is written; it is as if it had not been begun.
struct Interrupted {};

SweepEnd goes_on(const fs::path& path, std::size_t done) {
    print_text(stderr, "{}: interrupted with {} cases done; the same command goes on from there\n",
               path.string(), done);
    return {SweepEnd::How::interrupted, done, ""};
}

std::string header_of(const Sweep& sweep, Shard shard) {
    return fmt::format("shard {}/{}\n{}", shard.number, shard.of, sweep.identity);
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
    on_threads(threads, work);
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

/// Of a finished sweep, whose file is there.
void remove_journal(const fs::path& path) {
    std::error_code error;
    fs::remove(path, error);
    if (error)
        throw std::runtime_error(fmt::format("{}: is no longer needed, but cannot be removed: {}",
                                             path.string(), error.message()));
}

} // namespace

fs::path journal_of(const fs::path& output, Shard shard) {
    auto path = output;
    return path.concat(shard.of == 1 ? ".journal" : fmt::format(".part-{}-of-{}", shard.number, shard.of));
}

sim::Journal open_journal(const Sweep& sweep, const fs::path& path, Shard shard, sim::Journal::Use use) {
    return {path, header_of(sweep, shard), sweep.study.cases(), use};
}

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

SweepEnd write_study(const Sweep& sweep, const fs::path& output, const std::vector<sim::Journal>& journals) {
    std::map<CaseEnd, std::size_t> ends;
    KeptCourses kept(sweep);
    try {
        sim::write_cases(
            output, layout_of(sweep),
            [&](std::size_t number) {
                auto rows = rows_from(sweep, journals[number % journals.size()][number]);
                ++ends[case_end(sweep, rows)];
                kept.see(number, rows);
                return rows;
            },
            [&](sim::KeptSignals& signals) { return kept.next(signals); });
    } catch (const Interrupted&) {
        return goes_on(journals.size() == 1 ? journal_of(output, {}) : output, sweep.study.cases());
    }
    const std::size_t all = sweep.study.cases();
    const bool judged = scenarios::states_a_limit(sweep.base.accept)
                        || std::ranges::any_of(sweep.study.vary, [](const auto& axis) {
                               return axis.key.starts_with("accept.");
                           });
    const auto verdicts =
        judged ? fmt::format("{} keep every limit, {} break one, {} are undecided", ends[CaseEnd::kept],
                             ends[CaseEnd::broken], ends[CaseEnd::undecided])
               : "NOT JUDGED (no limit is stated under [accept])";
    return {SweepEnd::How::written, all,
            fmt::format("{}{}: {} cases: {}, {} could not be run to their end\n{}", warnings_text(sweep.base),
                        output.string(), all, verdicts, ends[CaseEnd::failed], kept.text())};
}

SweepEnd run_into_file(const Sweep& sweep, const fs::path& output, unsigned threads, Shard shard) {
    const auto path = journal_of(output, shard);
    const auto done = [&] { return shard.of == 1 && is_done(sweep, output); };
    // Asked before a journal is begun: the file of another study ends it here.
    if (done() && !fs::exists(path))
        return {SweepEnd::How::there, sweep.study.cases(), ""};
    std::vector<sim::Journal> journals;
    journals.push_back(open_journal(sweep, path, shard, sim::Journal::Use::write));
    // And again: until the journal was locked another process may have finished the sweep.
    if (done()) {
        remove_journal(path);
        return {SweepEnd::How::there, sweep.study.cases(), ""};
    }
    if (threads == 0)
        threads = all_processors();
    if (!run_missing(sweep, journals.front(), shard, threads))
        return goes_on(path, journals.front().size());
    if (shard.of > 1)
        return {SweepEnd::How::part, journals.front().size(), ""};
    auto end = write_study(sweep, output, journals);
    if (end.how == SweepEnd::How::written)
        remove_journal(path);
    return end;
}

} // namespace needleturn
