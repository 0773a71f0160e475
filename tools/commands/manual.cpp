#include "tools/commands/manual.h"

#include <CLI/CLI.hpp>
#include <fmt/format.h>

#include <string_view>
#include <vector>

namespace needleturn {

namespace {

/// Text as man(7) wants it: a backslash begins an escape, a hyphen would become a typographic one, and a line must not begin with
/// a point or a quote.
std::string escaped(std::string_view text) {
    std::string result = "\\&";
    for (const char c : text) {
        if (c == '\\')
            result += "\\e";
        else if (c == '-')
            result += "\\-";
        else if (c == '\n')
            result += "\n.br\n\\&";
        else
            result += c;
    }
    return result;
}

/// "-o, --output", or the name of an argument.
std::string names_of(const CLI::Option& option) {
    std::vector<std::string> names;
    for (const auto& name : option.get_snames())
        names.push_back("-" + name);
    for (const auto& name : option.get_lnames())
        names.push_back("--" + name);
    return names.empty() ? option.get_name(true) : fmt::format("{}", fmt::join(names, ", "));
}

/// What follows the name: "TEXT ...", or nothing for a flag.
std::string value_of(const CLI::Option& option) {
    const auto type = option.get_type_name();
    if (type.empty())
        return "";
    return " " + type + (option.get_expected_max() > 1 ? " ..." : "");
}

void describe_options(std::string& page, const CLI::App& app) {
    for (const auto* option : app.get_options())
        page += fmt::format(".TP\n.B {}\n{}{}\n", escaped(names_of(*option) + value_of(*option)),
                            escaped(option->get_description()), option->get_required() ? " (required)" : "");
}

/// Every way to write an option of the app.
std::vector<std::string> spellings(const CLI::App& app) {
    std::vector<std::string> words;
    for (const auto* option : app.get_options()) {
        for (const auto& name : option->get_snames())
            words.push_back("-" + name);
        for (const auto& name : option->get_lnames())
            words.push_back("--" + name);
    }
    return words;
}

} // namespace

std::string manual_page(const CLI::App& program) {
    std::string page = fmt::format(".TH NEEDLETURN 1 \"\" \"{}\" \"User Commands\"\n", program.version());
    page += fmt::format(".SH NAME\nneedleturn \\- {}\n", escaped(program.get_description()));
    page += ".SH SYNOPSIS\n.B needleturn\n.I subcommand\n[options]\n.SH OPTIONS\n";
    describe_options(page, program);
    page += ".SH SUBCOMMANDS\n";
    for (const auto* command : program.get_subcommands({})) {
        page += fmt::format(".SS {}\n{}\n", command->get_name(), escaped(command->get_description()));
        describe_options(page, *command);
    }
    page += fmt::format(".SH NOTES\n{}\n", escaped(program.get_footer()));
    return page;
}

std::string bash_completion(const CLI::App& program) {
    auto first = spellings(program);
    std::string cases;
    for (const auto* command : program.get_subcommands({})) {
        first.push_back(command->get_name());
        cases += fmt::format("        {}) words=\"{}\" ;;\n", command->get_name(),
                             fmt::join(spellings(*command), " "));
    }
    return fmt::format(R"(# Completion of needleturn for bash, written by needleturn --bash-completion.
_needleturn() {{
    local word=${{COMP_WORDS[COMP_CWORD]}} command="" words="" i
    for ((i = 1; i < COMP_CWORD; ++i)); do
        [[ ${{COMP_WORDS[i]}} == -* ]] || {{ command=${{COMP_WORDS[i]}}; break; }}
    done
    case $command in
        "") words="{}" ;;
{}    esac
    COMPREPLY=()
    [[ $command == "" || $word == -* ]] && mapfile -t COMPREPLY < <(compgen -W "$words" -- "$word")
}}
complete -o default -F _needleturn needleturn
)",
                       fmt::join(first, " "), cases);
}

} // namespace needleturn
