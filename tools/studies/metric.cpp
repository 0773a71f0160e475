#include "tools/studies/metric.h"

#include "scenarios/nearest.h"
#include "scenarios/table_reader.h"
#include "scenarios/units.h"
#include "tools/studies/formula_pieces.h"
#include "tools/studies/unit_exponents.h"

#include <fmt/format.h>
#include <tao/pegtl.hpp>
#include <tao/pegtl/contrib/parse_tree.hpp>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <limits>
#include <map>
#include <stdexcept>
#include <string_view>
#include <utility>

namespace needleturn {

namespace {

namespace grammar {

using namespace tao::pegtl;

struct gap : star<space> {};
template <char... C> struct mark : seq<one<C...>, gap> {};

struct number
    : seq<plus<digit>, opt<one<'.'>, star<digit>>, opt<one<'e', 'E'>, opt<one<'+', '-'>>, plus<digit>>> {};
struct name : seq<sor<alpha, one<'_'>>, star<sor<alnum, one<'_', '.'>, seq<one<'-'>, at<alnum>>>>> {};
struct inside_quotes : plus<not_one<'\''>> {};
struct closing_quote : one<'\''> {};
struct quantity : if_must<one<'\''>, inside_quotes, closing_quote> {};
struct whole : seq<opt<one<'-'>>, plus<digit>> {};
struct plus_or_minus : one<'+', '-'> {};
struct times_or_over : one<'*', '/'> {};

struct sum;
struct closing : mark<')'> {};
struct operand : seq<sum> {};
struct function : name {};
struct call : if_must<seq<function, gap, mark<'('>>, list_must<operand, mark<','>>, closing> {};
struct bracketed : if_must<mark<'('>, sum, closing> {};
struct value : sor<seq<sor<quantity, number>, gap>, call, seq<name, gap>, bracketed> {};
struct power : seq<value, opt<if_must<mark<'^'>, whole, gap>>> {};
struct negated_power : power {};
struct negation : if_must<mark<'-'>, negated_power> {};
struct factor : sor<negation, power> {};
struct next_factor : factor {};
struct product : seq<factor, star<if_must<seq<times_or_over, gap>, next_factor>>> {};
struct next_product : product {};
struct sum : seq<product, star<if_must<seq<plus_or_minus, gap>, next_product>>> {};
struct the_end : eof {};
struct formula : seq<gap, must<operand, the_end>> {};

template <class Rule> using selector =
    parse_tree::selector<Rule,
                         parse_tree::store_content::on<number, name, function, inside_quotes, whole,
                                                       plus_or_minus, times_or_over, call, negation>,
                         parse_tree::fold_one::on<power, negated_power, product, next_product, sum, operand>>;

/// What is wanted where a rule fails.
template <class Rule> constexpr const char* wanted = "a value is wanted";
template <> constexpr const char* wanted<closing> = "a ) is wanted";
template <> constexpr const char* wanted<closing_quote> = "a closing ' is wanted";
template <> constexpr const char* wanted<whole> = "a whole number is wanted behind ^";
template <> constexpr const char* wanted<the_end> = "an operator, such as +, or the end is wanted";

template <class Rule> struct control : normal<Rule> {
    template <class Input, class... States> [[noreturn]] static void raise(const Input& in, States&&...) {
        throw parse_error(wanted<Rule>, in);
    }
};

} // namespace grammar

using Node = tao::pegtl::parse_tree::node;
/// What is wrong, and in which column of the formula.
struct FormulaError {
    std::size_t column;
    std::string why;
};

/// Builds the pieces of a formula from its tree.
class Builder {
  public:
    explicit Builder(const std::vector<Quantity>& known) : known_{&known} {}

    Piece build(const Node& node);
    std::vector<std::string> signals;

  private:
    Piece signal(const Node& node);
    Piece call(const Node& node);
    Piece chain(const Node& node);
    Piece chained(const Piece& left, const Node& sign, const Node& right_node);
    static Piece constant(double number, const UnitExponents& unit) {
        return {false, unit, [number](const RecordedWindow&) { return Values{number}; }};
    }
    static Piece quantity(const Node& node);
    [[noreturn]] static void refuse(const Node& node, std::string why) {
        throw FormulaError{node.begin().column, std::move(why)};
    }
    static std::string unit_text(const Piece& piece) {
        const auto unit = udunits_of(piece.unit);
        return unit == "1" ? "a number without a unit" : "in " + unit;
    }

    const std::vector<Quantity>* known_;
};

Piece Builder::quantity(const Node& node) {
    const std::string text(node.string_view());
    const auto dimension = scenarios::common_dimension({text});
    if (!dimension)
        refuse(node, fmt::format("'{}' is no quantity; write a number and a unit, such as '5 bar'", text));
    return constant(scenarios::parse_quantity(text, *dimension),
                    exponents_of(scenarios::udunits(*dimension)));
}

Piece Builder::signal(const Node& node) {
    const auto name = std::string(node.string_view());
    const auto found = std::ranges::find(*known_, name, &Quantity::name);
    if (name == "time" && found == known_->end())
        return {true, exponents_of("s"), [](const RecordedWindow& window) {
                    Values times(window.end - window.begin);
                    for (std::size_t i = 0; i < times.size(); ++i)
                        times[i] = static_cast<double>(i) * window.interval;
                    return times;
                }};
    if (found == known_->end()) {
        std::vector<std::string> names;
        for (const auto& quantity : *known_)
            names.push_back(quantity.name);
        const auto near = scenarios::nearest(name, names);
        refuse(node, fmt::format("no signal is called {}; {}", name,
                                 near.empty() ? fmt::format("there are {}", fmt::join(names, ", "))
                                              : "nearest is " + near));
    }
    if (std::ranges::find(signals, name) == signals.end())
        signals.push_back(name);
    return {true, exponents_of(found->unit), [name](const RecordedWindow& window) {
                const auto& values = (*window.recording)[name];
                const auto from = values.begin();
                return Values(from + static_cast<std::ptrdiff_t>(window.begin),
                              from + static_cast<std::ptrdiff_t>(window.end));
            }};
}

Piece Builder::call(const Node& node) {
    using V = const Values&;
    const auto name = node.children.front()->string_view();
    std::vector<Piece> of;
    for (std::size_t i = 1; i < node.children.size(); ++i)
        of.push_back(build(*node.children[i]));
    const auto argument = [&](std::size_t count, bool course) {
        if (of.size() != count)
            refuse(node,
                   fmt::format("{} takes {} value{}, not {}", name, count, count == 1 ? "" : "s", of.size()));
        if (course && !of.front().course)
            refuse(*node.children[1], fmt::format("{} is of a signal; this is one number", name));
        return of.front();
    };
    const auto second = exponents_of("s");
    const std::map<std::string_view, std::function<Piece()>> functions{
        {"abs", [&] { return mapped(argument(1, false), of[0].unit, [](double x) { return std::abs(x); }); }},
        {"sqrt",
         [&] {
             return mapped(argument(1, false), of[0].unit.to_the(0.5), [](double x) { return std::sqrt(x); });
         }},
        {"rate",
         [&]() -> Piece {
             const auto a = argument(1, true);
             return {true, a.unit.times(second, -1),
                     [a](const RecordedWindow& window) { return rates(a.values(window), window.interval); }};
         }},
        {"max",
         [&] {
             return reduced(argument(1, true), of[0].unit, [](V v, double) { return std::ranges::max(v); });
         }},
        {"min",
         [&] {
             return reduced(argument(1, true), of[0].unit, [](V v, double) { return std::ranges::min(v); });
         }},
        {"mean",
         [&] { return reduced(argument(1, true), of[0].unit, [](V v, double) { return mean_of(v); }); }},
        {"rms",
         [&] { return reduced(argument(1, true), of[0].unit, [](V v, double) { return deviation(v, 0); }); }},
        {"std",
         [&] {
             return reduced(argument(1, true), of[0].unit,
                            [](V v, double) { return deviation(v, mean_of(v)); });
         }},
        {"first",
         [&] { return reduced(argument(1, true), of[0].unit, [](V v, double) { return v.front(); }); }},
        {"last",
         [&] { return reduced(argument(1, true), of[0].unit, [](V v, double) { return v.back(); }); }},
        {"integral", [&] { return reduced(argument(1, true), of[0].unit.times(second), trapezoids); }},
        {"time_of_max",
         [&] {
             return reduced(argument(1, true), second, [](V v, double interval) {
                 return interval * static_cast<double>(std::ranges::max_element(v) - v.begin());
             });
         }},
        {"time_of_min",
         [&] {
             return reduced(argument(1, true), second, [](V v, double interval) {
                 return interval * static_cast<double>(std::ranges::min_element(v) - v.begin());
             });
         }},
    };
    if (name == "time_above" || name == "time_below") {
        const auto a = argument(2, true);
        if (of[1].unit != a.unit)
            refuse(node, fmt::format("{} compares what is {} with what is {}", name, unit_text(a),
                                     unit_text(of[1])));
        const double sign = name == "time_above" ? 1 : -1;
        return reduced(
            combined(a, of[1], a.unit, [sign](double x, double limit) { return sign * (x - limit); }), second,
            [](V v, double interval) {
                const auto beyond = std::ranges::count_if(v, [](double x) { return x > 0; });
                return interval * static_cast<double>(beyond);
            });
    }
    const auto found = functions.find(name);
    if (found == functions.end()) {
        std::vector<std::string> names{"time_above", "time_below"};
        for (const auto& [known, make] : functions)
            names.emplace_back(known);
        refuse(node, fmt::format("no function is called {}; there are {}", name, fmt::join(names, ", ")));
    }
    return found->second();
}

Piece Builder::chained(const Piece& left, const Node& sign, const Node& right_node) {
    const auto right = build(right_node);
    const char what = sign.string_view().front();
    if ((what == '+' || what == '-') && left.unit != right.unit)
        refuse(sign, fmt::format("what is {} cannot be {} what is {}",
                                 what == '+' ? unit_text(left) : unit_text(right),
                                 what == '+' ? "added to" : "taken from",
                                 what == '+' ? unit_text(right) : unit_text(left)));
    switch (what) {
    case '+':
        return combined(left, right, left.unit, std::plus{});
    case '-':
        return combined(left, right, left.unit, std::minus{});
    case '*':
        return combined(left, right, left.unit.times(right.unit), std::multiplies{});
    default:
        return combined(left, right, left.unit.times(right.unit, -1), std::divides{});
    }
}

/// value, sign, value, sign, ... from left to right; or value and power.
Piece Builder::chain(const Node& node) {
    auto piece = build(*node.children.front());
    if (node.children.size() == 2) { // a power: its exponent is the second
        const auto text = node.children[1]->string_view();
        int exponent = 0;
        if (std::from_chars(text.data(), text.data() + text.size(), exponent).ec != std::errc{})
            refuse(*node.children[1], "the exponent is too large");
        return mapped(piece, piece.unit.to_the(exponent),
                      [exponent](double x) { return std::pow(x, exponent); });
    }
    for (std::size_t i = 1; i + 1 < node.children.size(); i += 2)
        piece = chained(piece, *node.children[i], *node.children[i + 1]);
    return piece;
}

Piece Builder::build(const Node& node) {
    if (node.is_type<grammar::number>()) {
        const auto text = node.string_view();
        double number = 0;
        if (std::from_chars(text.data(), text.data() + text.size(), number).ec != std::errc{})
            refuse(node, "a number too large or too small");
        return constant(number, {});
    }
    if (node.is_type<grammar::inside_quotes>())
        return quantity(node);
    if (node.is_type<grammar::name>())
        return signal(node);
    if (node.is_type<grammar::call>())
        return call(node);
    if (node.is_type<grammar::negation>()) {
        const auto piece = build(*node.children.front());
        return mapped(piece, piece.unit, std::negate{});
    }
    return chain(node);
}

} // namespace

Metric read_metric(const scenarios::StudyMetric& asked, const std::vector<Quantity>& known) {
    const auto refuse = [&](std::size_t column, const std::string& why) {
        scenarios::raise(fmt::format("{} = \"{}\": column {}: {}", asked.place, asked.formula, column, why));
    };
    // Each open bracket takes kilobytes of the stack and each term some more: without bounds a file could end the program.
    constexpr std::size_t longest = 1000; // characters
    if (asked.formula.size() > longest)
        scenarios::raise(fmt::format("{}: is {} characters long; at most {} are allowed", asked.place,
                                     asked.formula.size(), longest));
    constexpr std::size_t most_open = 100;
    std::size_t open = 0;
    for (std::size_t i = 0; i < asked.formula.size(); ++i) {
        if (asked.formula[i] == '(' && ++open > most_open)
            refuse(i + 1, fmt::format("more than {} brackets are open", most_open));
        if (asked.formula[i] == ')' && open > 0)
            --open;
    }
    try {
        tao::pegtl::memory_input in(asked.formula, "");
        const auto root = tao::pegtl::parse_tree::parse<grammar::formula, grammar::selector,
                                                        tao::pegtl::nothing, grammar::control>(in);
        Builder builder(known);
        const auto piece = builder.build(*root->children.front());
        if (piece.course)
            refuse(1,
                   "this is a value at every instant; make one number of it, e.g. by max(...) or mean(...)");
        return {asked, udunits_of(piece.unit), std::move(builder.signals),
                [values = piece.values](const RecordedWindow& window) { return values(window).front(); }};
    } catch (const FormulaError& error) {
        refuse(error.column, error.why);
    } catch (const tao::pegtl::parse_error& error) {
        refuse(error.positions().front().column, std::string(error.message()));
    }
    throw std::logic_error("a formula is neither read nor refused");
}

std::string Metric::meaning() const {
    using Over = scenarios::StudyMetric::Over;
    std::string text = asked.formula + ", over ";
    switch (asked.over) {
    case Over::each_event:
        text += "the event";
        break;
    case Over::run:
        text += "the run";
        break;
    case Over::one_event:
        text += fmt::format("event {}", asked.event);
        break;
    }
    if (asked.from > 0)
        text += fmt::format(", from {:g} s on", asked.from);
    if (asked.to)
        text += fmt::format(", to {:g} s", *asked.to);
    return text;
}

double Metric::between(const sim::Recording& recording, double from, double to) const {
    const auto samples = recording.time.size();
    constexpr double nothing = std::numeric_limits<double>::quiet_NaN();
    if (samples < 2)
        return nothing;
    const double interval = recording.time[1] - recording.time[0];
    const auto sample = [&](double time) { return static_cast<std::size_t>(std::lround(time / interval)); };
    const double last = asked.to ? std::min(to, from + *asked.to) : to;
    const auto begin = sample(from + asked.from), end = std::min(sample(last) + 1, samples);
    if (end < begin + 2)
        return nothing;
    return value({&recording, begin, end, interval});
}

} // namespace needleturn
