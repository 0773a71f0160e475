/// How the keys of scenario and hardware files are listed, once for reading, writing and testing.
///
/// `visit_keys(on, part)` calls `on` once per key, in an order in which each key depends only on earlier
/// ones:
///     on.required(key, member, dimension, range)            a quantity that must be there
///     on.optional(key, member, dimension, range[, otherwise])  one that need not be; then it is `otherwise`
///     on.required / on.optional(key, string)                a text
///     on.date(key, string)                                  a date as date.h has it, optional
///     on.optional(key, count, low, high)                    a whole number
///     on.choice(key, member, {{"word", value}, ...})        one of a few words
///     on.numbers(key, vector)                               bare numbers
///     on.one_of(member, chosen, alternatives)               exactly one of several keys
///     on.table(key, presence, [](auto& in) {...})           a table
///     on.option(key, std::optional, [](auto& in, auto& member) {...})  a table, without which there is none
///     on.quantity_or_table(key, presence..., [](auto& in))  a quantity, short for the table's main one
///     on.list(key, presence, vector, [](auto& in, auto& member, index) {...})
///     on.ranges(key, ranges)                                what is known of values of hardware beside it
///     on.hardware(key, override_key, hardware)              "family/size" or a table, then changes to it
///     on.stage_name(key, index, stages)                     the name of a stage
///     on.log_file(file, column, from, log)                  a logger's file; true: there is one, and the log is read
///     on.log_rows(name, seconds, flows, unit, log)          its rows
///     on.refuse(key, member, why)                           a key that means nothing here
///     on.check(true_when_fine, key, why)                    a condition between keys
#pragma once

#include "scenarios/range.h"
#include "scenarios/units.h"

#include <functional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace needleturn::scenarios {

enum class Presence { required, optional };

/// One of several keys that say the same thing; `to_member` turns its SI value into the member's.
struct Alternative {
    std::string_view key;
    Dimension dimension;
    Range range;
    std::function<double(double)> to_member = [](double value) { return value; };
};

template <class E> using Words = std::vector<std::pair<std::string, E>>;

} // namespace needleturn::scenarios
