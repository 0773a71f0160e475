#include "tools/commands/options.h"

#include <CLI/CLI.hpp>

#include <cstddef>
#include <optional>
#include <utility>

namespace needleturn {

OptionHandle OptionHandle::required() {
    option_->required();
    return *this;
}

OptionHandle OptionHandle::delimiter(char mark) {
    option_->delimiter(mark);
    return *this;
}

OptionHandle OptionHandle::repeated() {
    option_->take_all()->allow_extra_args(false);
    return *this;
}

OptionHandle OptionHandle::take_all() {
    option_->take_all();
    return *this;
}

OptionHandle OptionHandle::among(std::initializer_list<const char*> words, bool any_case) {
    const std::vector<std::string> list(words.begin(), words.end());
    if (any_case)
        option_->transform(CLI::IsMember(list, CLI::ignore_case));
    else
        option_->check(CLI::IsMember(list));
    return *this;
}

OptionHandle OptionHandle::within(unsigned low, unsigned high) {
    option_->check(CLI::Range(low, high));
    return *this;
}

OptionHandle OptionHandle::value_or(const char* otherwise) {
    // CLI11 has the default text assigned where the option stands alone; --help would show it as what holds without the option.
    option_->expected(0, 1)->default_str(otherwise)->option_text("[" + option_->get_type_name() + "]");
    return *this;
}

OptionHandle OptionHandle::capture_default_str() {
    option_->capture_default_str();
    return *this;
}

Command Command::add_subcommand(const std::string& name, const std::string& description) {
    return *app_->add_subcommand(name, description);
}

template <class T>
OptionHandle Command::add_option(const std::string& name, T& value, const std::string& description) {
    return OptionHandle(app_->add_option(name, value, description));
}

template OptionHandle Command::add_option(const std::string&, std::string&, const std::string&);
template OptionHandle Command::add_option(const std::string&, std::vector<std::string>&, const std::string&);
template OptionHandle Command::add_option(const std::string&, std::size_t&, const std::string&);
template OptionHandle Command::add_option(const std::string&, unsigned&, const std::string&);
template OptionHandle Command::add_option(const std::string&, std::optional<double>&, const std::string&);

OptionHandle Command::add_values(const std::string& name,
                                 const std::function<void(const std::vector<std::string>&)>& take,
                                 const std::string& description) {
    return OptionHandle(app_->add_option_function(name, take, description));
}

void Command::add_flag(const std::string& name, bool& value, const std::string& description) {
    app_->add_flag(name, value, description);
}

void Command::callback(std::function<void()> call) { app_->callback(std::move(call)); }

} // namespace needleturn
