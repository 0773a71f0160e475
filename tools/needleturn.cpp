/// needleturn: the program. One subcommand per file; here they are only put together.
#include "tools/exit_code.h"
#include "tools/faults.h"
#include "tools/figure.h"
#include "tools/map.h"
#include "tools/report.h"
#include "tools/run.h"
#include "tools/sensitivity.h"
#include "tools/simulate.h"
#include "tools/stage.h"
#include "tools/sweep.h"
#include "tools/window.h"

#include <CLI/CLI.hpp>
#include <fmt/format.h>

#include <cstdio>
#include <exception>
#include <functional>

// NOLINTNEXTLINE(bugprone-exception-escape): when even the last line cannot be printed, nobody is left to tell
int main(int argc, char** argv) {
    CLI::App program{
        "Rehearse the commissioning of pilot-operated pressure-reducing valves: a dynamic simulator."};
    program.footer(
        "Exit codes: 0 passed, 1 an acceptance limit is broken, 2 bad input, 3 a run ended early.\n"
        "Pressurised water hurts people: local codes and licensed practice come first.");
    program.set_version_flag("--version", needleturn::program_version());
    program.require_subcommand(1);
    std::function<int()> action;
    needleturn::add_run(program, action);
    needleturn::add_sweep(program, action);
    needleturn::add_join(program, action);
    needleturn::add_window(program, action);
    needleturn::add_sensitivity(program, action);
    needleturn::add_map(program, action);
    needleturn::add_stage(program, action);
    needleturn::add_report(program, action);
    needleturn::add_faults(program, action);
    needleturn::add_figure(program, action);
    try {
        program.parse(argc, argv);
        return action();
    } catch (const CLI::CallForHelp& help) {
        return program.exit(help);
    } catch (const CLI::CallForAllHelp& help) {
        return program.exit(help);
    } catch (const CLI::CallForVersion& version) {
        return program.exit(version);
    } catch (const CLI::ParseError& error) {
        fmt::print(stderr, "needleturn: {}; see needleturn --help\n", error.what());
    } catch (const std::exception& error) {
        fmt::print(stderr, "{}\n", error.what());
    }
    return needleturn::exit_bad_input;
}
