#include "tools/studies/relations.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <optional>
#include <utility>

namespace needleturn {

namespace {

/// A relation at work: the ends of its inputs, and the extremes of its value over them.
class Worker {
  public:
    Worker(const Relation& relation, const Facts& facts) : relation_{relation} {
        for (const auto& input : relation.inputs) {
            const auto& fact = facts.at(input.fact);
            low_.push_back(fact.low);
            high_.push_back(fact.high);
            directions_.push_back(input.direction);
        }
        for (std::size_t i = 0; i < directions_.size(); ++i)
            if (directions_[i] == Direction::either)
                directions_[i] = direction_seen(i);
    }

    double lowest() const { return extreme(false); }
    double highest() const { return extreme(true); }

    /// Cuts input i to what leaves the value within low..high; whether that took anything away.
    bool cut(std::size_t i, double low, double high) {
        if (directions_[i] == Direction::either || low_[i] == high_[i])
            return false;
        const bool rising = directions_[i] == Direction::rising;
        // Below `first` the highest value is too low, or for a falling input the lowest too high.
        const auto too_far_down = [&](double at) {
            return rising ? extreme_at(i, at, true) < low : extreme_at(i, at, false) > high;
        };
        const auto too_far_up = [&](double at) {
            return rising ? extreme_at(i, at, false) > high : extreme_at(i, at, true) < low;
        };
        const double first = too_far_down(low_[i]) ? border(low_[i], high_[i], too_far_down) : low_[i];
        const double last = too_far_up(high_[i]) ? border(high_[i], low_[i], too_far_up) : high_[i];
        if (first > last || (first == low_[i] && last == high_[i]))
            return false;
        low_[i] = first;
        high_[i] = last;
        return true;
    }

    double low(std::size_t i) const { return low_[i]; }
    double high(std::size_t i) const { return high_[i]; }

  private:
    /// The last value that does not fit, next to those that do, between `outside` and `inside`.
    template <class Outside> static double border(double outside, double inside, const Outside& is_outside) {
        constexpr int halvings = 50;
        for (int i = 0; i < halvings; ++i) {
            // Of what is hardly known by its logarithm: it may lie many powers of ten from either end.
            const double middle =
                outside > 0 && inside > 0 ? std::sqrt(outside) * std::sqrt(inside) : (outside + inside) / 2;
            (is_outside(middle) ? outside : inside) = middle;
        }
        return outside;
    }

    double extreme(bool highest) const {
        std::vector<double> at(low_.size());
        for (std::size_t i = 0; i < at.size(); ++i)
            at[i] = (directions_[i] == Direction::rising) == highest ? high_[i] : low_[i];
        return over_both_ends(at, 0, highest);
    }
    double extreme_at(std::size_t i, double value, bool highest) const {
        auto pinned = *this;
        pinned.low_[i] = pinned.high_[i] = value;
        return pinned.extreme(highest);
    }
    /// An input of unknown direction is tried at both ends.
    double over_both_ends(std::vector<double>& at, std::size_t from, bool highest) const {
        const auto open = std::find(directions_.begin() + static_cast<std::ptrdiff_t>(from),
                                    directions_.end(), Direction::either);
        if (open == directions_.end())
            return relation_.value(at);
        const auto i = static_cast<std::size_t>(open - directions_.begin());
        at[i] = low_[i];
        const double one = over_both_ends(at, i + 1, highest);
        at[i] = high_[i];
        const double other = over_both_ends(at, i + 1, highest);
        return highest ? std::max(one, other) : std::min(one, other);
    }
    /// The direction that input i has at both extremes of the others, or `either`.
    Direction direction_seen(std::size_t i) const {
        const double low_rise = extreme_at(i, high_[i], false) - extreme_at(i, low_[i], false);
        const double high_rise = extreme_at(i, high_[i], true) - extreme_at(i, low_[i], true);
        if (low_rise > 0 && high_rise > 0)
            return Direction::rising;
        return low_rise < 0 && high_rise < 0 ? Direction::falling : Direction::either;
    }

    const Relation& relation_;
    std::vector<double> low_, high_;
    std::vector<Direction> directions_;
};

std::string cause(const Relation& relation) {
    return relation.equations.empty() ? relation.name
                                      : fmt::format("{} ({})", relation.name, relation.equations);
}

/// Sets the range of a fact, and takes down why where that is more than a trifle; whether it was.
bool set_range(Fact& fact, double low, double high, const Relation& relation) {
    constexpr double trifle = 1e-3; // of the width
    const double before = fact.high - fact.low;
    const bool matters = before - (high - low) > trifle * before;
    fact.low = low;
    fact.high = high;
    const auto why = cause(relation);
    if (matters && std::ranges::find(fact.by, why) == fact.by.end())
        fact.by.push_back(why);
    return matters;
}

/// Cuts all that the relation ties together; whether more than a trifle was cut. The ranges must meet.
bool apply(const Relation& relation, Facts& facts) {
    Worker worker(relation, facts);
    auto& result = facts.at(relation.result);
    const double low = std::max(result.low, worker.lowest());
    const double high = std::min(result.high, worker.highest());
    bool changed = set_range(result, low, high, relation);
    for (std::size_t i = 0; i < relation.inputs.size(); ++i)
        if (worker.cut(i, low, high))
            changed = set_range(facts.at(relation.inputs[i].fact), worker.low(i), worker.high(i), relation)
                      || changed;
    return changed;
}

/// Nothing: the ranges meet.
std::optional<Contradiction> contradiction(const Relation& relation, const Facts& facts) {
    const Worker worker(relation, facts);
    const auto& result = facts.at(relation.result);
    Contradiction found{
        relation.name,     relation.equations, relation.result, result, worker.lowest(), worker.highest(), {},
        relation.gives_way};
    if (found.low <= result.high && result.low <= found.high)
        return {};
    for (const auto& name : relation.gives_way)
        if (facts.at(name).generic)
            found.generic.push_back(name);
    return found;
}

/// Lets a fact be what the relation makes of it, whatever is usual; false, and nothing is changed: the relation does not bound it.
bool set_free(Fact& fact, const Relation& relation, Facts& facts) {
    const auto before = facts;
    constexpr double any_valve = 1e3; // so many times smaller or larger than the generic one
    const double low = fact.low / any_valve, high = fact.high * any_valve;
    fact = {low, high, fact.dimension, false, {}};
    if (!contradiction(relation, facts)) {
        apply(relation, facts);
        if (fact.low > low && fact.high < high)
            return true;
    }
    facts = before; // assigned, not swapped: `fact` still is the fact
    return false;
}

/// The only name of `names` that is generic; empty: none or several.
std::string only_generic(std::span<const std::string> names, const Facts& facts) {
    std::string only;
    for (const auto& name : names)
        if (facts.at(name).generic) {
            if (!only.empty())
                return "";
            only = name;
        }
    return only;
}

/// What all else of a relation is stated of is measured by it: what is usual no longer counts.
void free_what_is_measured(Facts& facts, std::span<const Relation> relations) {
    for (const auto& relation : relations) {
        std::vector<std::string> names{relation.result};
        for (const auto& input : relation.inputs)
            names.push_back(input.fact);
        const auto only = only_generic(names, facts);
        if (!only.empty() && std::ranges::find(relation.gives_way, only) != relation.gives_way.end())
            set_free(facts.at(only), relation, facts);
    }
}

} // namespace

double Contradiction::apart() const { return low > stated.high ? low / stated.high : stated.low / high; }

std::vector<Contradiction> narrow(Facts& facts, std::span<const Relation> relations) {
    std::vector<Contradiction> contradictions;
    free_what_is_measured(facts, relations);
    std::vector<bool> used(relations.size(), true);
    constexpr int most_rounds = 30;
    bool changed = true;
    for (int round = 0; round < most_rounds && changed; ++round) {
        changed = false;
        for (std::size_t i = 0; i < relations.size(); ++i) {
            if (!used[i])
                continue;
            const auto& relation = relations[i];
            if (const auto found = contradiction(relation, facts)) {
                const auto only = only_generic(relation.gives_way, facts);
                if (only.empty() || !set_free(facts.at(only), relation, facts)) {
                    contradictions.push_back(*found);
                    used[i] = false;
                    continue;
                }
            }
            changed = apply(relation, facts) || changed;
        }
    }
    return contradictions;
}

} // namespace needleturn
