/// Station: supply, pipes, stages in one step or two and demands joined into one model (sim/contract/model.h). Only what joins the
/// parts of models/station_parts.h is here: their states, equations and signals are in their own files.
#pragma once

#include "models/fields.h"
#include "models/line.h"
#include "models/names.h"
#include "models/station_parts.h"
#include "sim/contract/model.h"
#include "sim/contract/select.h"

#include <cstddef>
#include <optional>
#include <span>
#include <tuple>
#include <type_traits>
#include <utility>
#include <vector>

namespace needleturn::models {

/// Where the first of two steps stands; none: there is one step. Throws std::invalid_argument where its stages stand in several
/// places.
std::optional<BetweenPoints> first_step(const StationParts& parts);

namespace detail {
template <class T> std::span<T> listed(std::vector<T>& parts) { return parts; }
template <class T> std::span<const T> listed(const std::vector<T>& parts) { return parts; }
template <class T> std::span<T> listed(std::optional<T>& part) {
    return {part ? &*part : nullptr, part ? 1U : 0U};
}
template <class T> std::span<const T> listed(const std::optional<T>& part) {
    return {part ? &*part : nullptr, part ? 1U : 0U};
}

/// Of the kinds of parts, what has joined each into the line.
template <class Kinds> struct JoinedOf;
template <class... Kind> struct JoinedOf<std::tuple<Kind&...>> {
    using Lists = std::tuple<std::vector<typename Kind::value_type::Joined>...>;
};
} // namespace detail

/// P is the scalar of the parameters. What is computed with it may be of the same kind or, with plain parameters, of any.
template <class P> class StationOf {
  public:
    using Parts = StationPartsOf<P>;
    using StageIndex = typename PilotStageOf<P>::Index;

    /// Of plain numbers only. Throws std::invalid_argument when a point stores nothing or the pipes are not a tree.
    explicit StationOf(Parts parts);

    /// The same station with parameters of another scalar, which begin as its numbers.
    template <class Q> explicit StationOf(const StationOf<Q>& other)
        : states_{other.states_}, drives_{other.drives_}, signals_{other.signals_} {
        convert(other.parts_, parts_);
        line_.source = other.line_.source;
        line_.supply_meter = other.line_.supply_meter;
        for (const auto& point : other.line_.points)
            line_.points.push_back({point.pressure, 0.0});
        take_places(other, std::make_index_sequence<std::tuple_size_v<Joined>>{});
        join();
    }

    const std::vector<Quantity>& states() const { return states_; }
    const std::vector<Quantity>& drives() const { return drives_; }
    const std::vector<Quantity>& signals() const { return signals_; }
    const Parts& parts() const { return parts_; }

    /// Lets `on` change the numbers of the parts, not their form (models/fields.h). The tables keep the typical sizes that they
    /// had; an assembly of this station goes on with the new numbers.
    template <class On> void change(const On& on) {
        on(parts_);
        join();
    }

    /// A first guess of the steady states as stored, for find_equilibrium, from the values of the drives and the free
    /// air in each cover (m3). Of plain numbers only.
    std::vector<double> start(std::span<const double> drives, std::span<const double> free_air) const;

    std::size_t point(PointId id) const { return line_.points[id].pressure; } ///< state: its pressure
    const StorageOf<P>& storage(PointId id) const {
        return joined<PointOf<P>>()[id].whole;
    } ///< the pipes' shares included
    std::size_t inlet() const { return point(parts_.inlet); }
    std::size_t outlet() const { return point(parts_.outlet); }
    const StageIndex& stage(std::size_t i) const { return joined<PilotStageOf<P>>()[i]; }
    const DirectStageIndex& direct_stage(std::size_t i) const { return joined<DirectStageOf<P>>()[i]; }
    const PipeIndex& pipe(std::size_t i) const { return joined<PipeRunOf<P>>()[i]; }
    const StorageOf<P>& pipe_cell(std::size_t i, std::size_t k) const {
        return joined<PipeRunOf<P>>()[i].cells[k];
    } ///< of pipe(i).pressure[k]
    const DemandIndex& demand(std::size_t i) const { return joined<DemandPointOf<P>>()[i]; }
    const AirPocketIndex& air_pocket(std::size_t i) const { return joined<AirPocketOf<P>>()[i]; }
    const ReliefValveIndex& relief_valve(std::size_t i) const { return joined<ReliefValveOf<P>>()[i]; }
    const StrainerIndex& strainer() const { return joined<StrainerOf<P>>().front(); } ///< if there is one
    std::size_t source() const { return line_.source; }                               ///< drive: pressure
    std::size_t supply_meter() const { return line_.supply_meter; }

    /// Places along a pipe where its pressure is known, from its left end: value (state or drive) and distance, m.
    struct Place {
        std::size_t value;
        P distance;
    };
    std::vector<Place> places(std::size_t i) const {
        std::vector<Place> along;
        parts_.pipes[i].visit_places(
            [&](std::size_t value, P distance) {
                along.push_back({value, distance});
            },
            joined<PipeRunOf<P>>()[i]);
        return along;
    }

    template <class On> void visit_storages(On&& on) const {
        each(*this, [&on](const auto& part, const auto& at) {
            part.visit_storages(
                [&on](std::size_t state, const auto& storage) {
                    on(state, [&storage](auto stored) { return storage.pressure(stored); });
                },
                at);
        });
    }

    template <class On> void visit_elements(On&& on) const {
        each(*this, [&on](const auto& part, const auto& at) { part.visit(on, at); });
    }

    /// Signals beyond states and drives, in the order of signals().
    template <class T> void observe_as(const T* values, T* signals) const {
        for_signals(*this, [&](const auto& part, const auto& at) { part.observe(at, values, signals); });
    }
    void observe(std::span<const double> values, std::span<double> signals) const {
        observe_as(values.data(), signals.data());
    }

  private:
    template <class Q> friend class StationOf;
    using Joined = typename detail::JoinedOf<decltype(Parts::kinds(std::declval<Parts&>()))>::Lists;

    template <class Part> const std::vector<typename Part::Joined>& joined() const {
        return std::get<std::vector<typename Part::Joined>>(joined_);
    }

    /// on(part, how it is joined) for all parts, kind by kind.
    template <class Self, class On> static void each(Self& self, const On& on) {
        auto kinds = Parts::kinds(self.parts_);
        const auto each_of = [&on](auto parts, auto& how) {
            for (std::size_t i = 0; i < parts.size(); ++i)
                on(parts[i], how[i]);
        };
        [&]<std::size_t... I>(std::index_sequence<I...>) {
            (each_of(detail::listed(std::get<I>(kinds)), std::get<I>(self.joined_)), ...);
        }
        (std::make_index_sequence<std::tuple_size_v<Joined>>{});
    }

    /// The parts that have signals: stages first, then the line.
    template <class Self, class On> static void for_signals(Self& self, const On& on) {
        for (const bool stages : {true, false})
            each(self, [&](const auto& part, const auto& at) {
                using Part = std::remove_cvref_t<decltype(part)>;
                if constexpr (requires { &Part::name_signals; })
                    if (stages == requires { Part::is_stage; })
                        on(part, at);
            });
    }

    template <class Q, std::size_t... I>
    void take_places(const StationOf<Q>& other, std::index_sequence<I...>) {
        using Kinds = decltype(Parts::kinds(parts_));
        const auto take = [](const auto& from, auto& to, auto part) {
            to.resize(from.size());
            for (std::size_t i = 0; i < from.size(); ++i)
                static_cast<typename decltype(part)::type::Index&>(to[i]) = from[i];
        };
        (take(std::get<I>(other.joined_), std::get<I>(joined_),
              std::type_identity<typename std::remove_cvref_t<std::tuple_element_t<I, Kinds>>::value_type>{}),
         ...);
    }

    /// Works out what follows from the numbers of the parts.
    void join() {
        line_.inlet = parts_.inlet;
        line_.outlet = parts_.outlet;
        line_.trace = parts_.trace;
        add_up_storages();
        each(*this, [this](const auto& part, auto& how) { part.join(how, line_); });
    }

    void add_up_storages() {
        auto& points = std::get<std::vector<typename PointOf<P>::Joined>>(joined_);
        for (std::size_t i = 0; i < points.size(); ++i)
            points[i].whole = parts_.points[i].storage;
        for (std::size_t i = 0; i < parts_.pipes.size(); ++i) {
            const auto& run = parts_.pipes[i];
            const auto add = [&](PointId at) {
                auto& storage = points[at].whole;
                storage.per_pascal += run.pipe.end_storage(pipe(i).upwind);
                storage.modulus = where(
                    storage.modulus > 0.0, [&] { return storage.modulus; },
                    [&] { return run.pipe.modulus(); });
            };
            if (run.from)
                add(*run.from);
            add(run.to);
        }
        for (std::size_t i = 0; i < points.size(); ++i) {
            points[i].whole.trace = parts_.trace;
            line_.points[i].per_volume = 1.0 / points[i].whole.per_pascal;
        }
    }

    Parts parts_;
    Joined joined_;
    LineOf<P> line_;
    std::vector<Quantity> states_, drives_, signals_;
};

using Station = StationOf<double>;
template <> Station::StationOf(StationParts parts);
template <>
std::vector<double> Station::start(std::span<const double> drives, std::span<const double> free_air) const;

} // namespace needleturn::models
