/// Subcommands and their options, as they are described to the parser of the command line.
///
/// A thin cover of CLI11, compiled once: included everywhere, its headers take a compiler five seconds in each file.
#pragma once

#include <functional>
#include <initializer_list>
#include <string>
#include <vector>

namespace CLI {
class App;
class Option;
} // namespace CLI

namespace needleturn {

/// An option or an argument of a subcommand. Every call returns the same option, so that they can be chained.
class OptionHandle {
  public:
    explicit OptionHandle(CLI::Option* option) : option_{option} {}

    OptionHandle required();
    /// Values in one argument, apart by `mark`.
    OptionHandle delimiter(char mark);
    /// May be given several times, with one value each.
    OptionHandle repeated();
    /// May be given several times, with one value or several each.
    OptionHandle take_all();
    /// Only these words; `any_case`: written in any case, and taken as they stand here.
    OptionHandle among(std::initializer_list<const char*> words, bool any_case = false);
    OptionHandle within(unsigned low, unsigned high);
    /// Its value may be left out; then it is `otherwise`.
    OptionHandle value_or(const char* otherwise);
    /// The value that it has without being given is shown by --help.
    OptionHandle capture_default_str();

  private:
    CLI::Option* option_;
};

/// The program, or a subcommand of it. A handle: what it stands for belongs to the parser.
class Command {
  public:
    Command(CLI::App& app) : app_{&app} {}

    Command add_subcommand(const std::string& name, const std::string& description);
    /// `value` is written while the command line is parsed. Of std::string, std::vector<std::string>, std::size_t, unsigned
    /// and std::optional<double>.
    template <class T>
    OptionHandle add_option(const std::string& name, T& value, const std::string& description);
    /// `take` is called with all values of the option, while the command line is parsed.
    OptionHandle add_values(const std::string& name,
                            const std::function<void(const std::vector<std::string>&)>& take,
                            const std::string& description);
    void add_flag(const std::string& name, bool& value, const std::string& description);
    /// Called once the command line is parsed and this subcommand was given.
    void callback(std::function<void()> call);

  private:
    CLI::App* app_;
};

} // namespace needleturn
