/// needleturn: the program. One subcommand per file; here they are only put together.
#include "tools/commands/exit_code.h"
#include "tools/commands/export.h"
#include "tools/commands/faults.h"
#include "tools/commands/figure.h"
#include "tools/commands/fit.h"
#include "tools/commands/hardware.h"
#include "tools/commands/manual.h"
#include "tools/commands/map.h"
#include "tools/commands/next_test.h"
#include "tools/commands/print_text.h"
#include "tools/commands/rehearse.h"
#include "tools/commands/report.h"
#include "tools/commands/run.h"
#include "tools/commands/sensitivity.h"
#include "tools/commands/sheet.h"
#include "tools/commands/stage.h"
#include "tools/commands/sweep.h"
#include "tools/commands/verify.h"
#include "tools/commands/window.h"
#include "tools/studies/simulate.h"

#include <CLI/CLI.hpp>
#include <fmt/format.h>

#include <cerrno>
#include <cstdio>
#include <exception>
#include <filesystem>
#include <functional>
#include <new>
#include <string>
#include <system_error>
#include <vector>

namespace {

/// Throws CLI::ParseError, which names the subcommands there are, for none or an unknown one.
void require_action(const CLI::App& program, bool given) {
    const auto unknown = program.remaining();
    if (given && unknown.empty())
        return;
    std::vector<std::string> names;
    for (const auto* command : program.get_subcommands({}))
        names.push_back(command->get_name());
    throw CLI::ParseError(fmt::format("{}; subcommands: {}",
                                      unknown.empty() ? "a subcommand is wanted"
                                                      : unknown.front() + ": no such subcommand or option",
                                      fmt::join(names, ", ")),
                          needleturn::exit_bad_input);
}

int print_all(const std::string& text) {
    fmt::print("{}", text);
    return needleturn::exit_passed;
}

} // namespace

// NOLINTNEXTLINE(bugprone-exception-escape): when even the last line cannot be printed, nobody is left to tell
int main(int argc, char** argv) {
    CLI::App program{
        "Rehearse the commissioning of pilot-operated pressure-reducing valves: a dynamic simulator."};
    program.footer(
        "Exit codes: 0 passed, 1 an acceptance limit is broken, 2 bad input, 3 a run ended early.\n"
        "Pressurised water hurts people: local codes and licensed practice come first.");
    program.set_version_flag("--version", needleturn::program_version());
    std::function<int()> action;
    const auto prints = [&](const std::string& option, const std::string& description, auto text) {
        program.add_flag_callback(
            option, [&action, text] { action = [text] { return print_all(text()); }; }, description);
    };
    prints("--notices", "Print the licences of what the program and its pages carry of others",
           needleturn::notices);
    prints("--manual-page", "Print the manual page, as man(1) reads it",
           [&program] { return needleturn::manual_page(program); });
    prints("--bash-completion", "Print the completion for bash",
           [&program] { return needleturn::bash_completion(program); });
    program.require_subcommand(0, 1); // none: require_action says it
    needleturn::add_run(program, action);
    needleturn::add_sweep(program, action);
    needleturn::add_join(program, action);
    needleturn::add_window(program, action);
    needleturn::add_next_test(program, action);
    needleturn::add_sensitivity(program, action);
    needleturn::add_map(program, action);
    needleturn::add_stage(program, action);
    needleturn::add_report(program, action);
    needleturn::add_rehearse(program, action);
    needleturn::add_sheet(program, action);
    needleturn::add_faults(program, action);
    needleturn::add_hardware(program, action);
    needleturn::add_fit(program, action);
    needleturn::add_figure(program, action);
    needleturn::add_export(program, action);
    needleturn::add_verify(program, action);
    program.allow_extras(); // require_action names them; set last, for subcommands would inherit it
    try {
        program.parse(argc, argv);
        require_action(program, action != nullptr);
        const int code = action();
        if (std::fflush(stdout) != 0)
            throw std::system_error(errno, std::generic_category(), "needleturn: cannot print");
        return code;
    } catch (const CLI::CallForHelp& help) {
        return program.exit(help);
    } catch (const CLI::CallForAllHelp& help) {
        return program.exit(help);
    } catch (const CLI::CallForVersion& version) {
        return program.exit(version);
    } catch (const CLI::ParseError& error) {
        needleturn::print_text(stderr, "needleturn: {}; see needleturn --help\n", error.what());
    } catch (const std::filesystem::filesystem_error& error) {
        needleturn::print_text(stderr, "{}: {}\n", error.path1().string(), error.code().message());
    } catch (const std::bad_alloc&) {
        needleturn::print_text(stderr, "needleturn: there is not enough memory for this\n");
    } catch (const std::exception& error) {
        needleturn::print_text(stderr, "{}\n", error.what());
    }
    return needleturn::exit_bad_input;
}
