/// Progress of long commands, on a terminal and in a log, by a clock that the tests move.
#include "tools/commands/cases_progress.h"
#include "tools/commands/progress_line.h"

#include <doctest/doctest.h>

#include <chrono>
#include <string>

using namespace needleturn;

namespace {

/// Somewhere to write, and a clock.
struct Stage {
    std::string written;
    ProgressOutput::clock::time_point now{};
    ProgressOutput output;

    explicit Stage(bool terminal)
        : output{terminal, [this] { return now; }, [this](const std::string& text) { written += text; },
                 now} {}
    void pass(std::chrono::milliseconds time) { now += time; }
};

} // namespace

TEST_CASE("a log has a line of progress each minute and one at the end") {
    Stage stage(false);
    {
        CasesProgress progress(0, 300, "cases", stage.output);
        for (int i = 0; i < 300; ++i) {
            stage.pass(std::chrono::milliseconds(500));
            progress.one_more();
        }
    }
    // 150 s: after one minute, after two, at the end.
    CHECK(stage.written
          == "  120 of 300 cases, 2 a second, 0:01:30 left\n"
             "  240 of 300 cases, 2 a second, 30 s left\n"
             "  300 of 300 cases, 2 a second, done in 0:02:30\n");
}

TEST_CASE("a command that is done within a minute writes nothing into a log") {
    Stage stage(false);
    {
        CasesProgress progress(0, 2, "cases", stage.output);
        stage.pass(std::chrono::milliseconds(59'999));
        progress.one_more();
        progress.one_more();
    }
    CHECK(stage.written.empty());
}

TEST_CASE("the minute of a log is that of the command and not of each of its parts") {
    Stage stage(false);
    for (int part = 0; part < 4; ++part) {
        ProgressLine line(stage.output);
        stage.pass(std::chrono::milliseconds(31'000));
        line.tell([&] { return "part " + std::to_string(part); });
        line.end([&] { return "end of " + std::to_string(part); });
    }
    CHECK(stage.written == "  part 1\n  end of 1\n  part 3\n  end of 3\n");
}

TEST_CASE("on a terminal the line is rewritten five times a second and taken away") {
    Stage stage(true);
    {
        ProgressLine line(stage.output);
        for (int i = 0; i < 4; ++i) {
            stage.pass(std::chrono::milliseconds(100));
            line.tell([&] { return std::to_string(i); });
        }
        line.end([] { return std::string("never shown"); });
    }
    CHECK(stage.written == "\r  1\033[K\r  3\033[K\r\033[K");
}
