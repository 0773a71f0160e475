/// Isolating cocks of a stage: a full-bore ball or gate ahead of it and one behind it.
///
///     q = C_full (h^2 + leak) root(p_from - p_to)                                                     (33)
///
/// h is the opening, 0 shut to 1 open. The square is the generic growth of a ball's opening (common practice, no
/// source). A shut cock weeps: without that the pressure caught between two shut seats would be undetermined.
///
/// Between each cock and the seat lies a part of the valve's body, a storage (models/laws/storage.h). Everything of the stage
/// that reaches the outlet does so through the space behind the seat: trim, pilot, sensing line, and what stem and
/// diaphragm displace. So a stage shut off on both sides keeps its pressures, its moving parts exchange no water with the
/// station, and the water balance closes at any opening. A factor of the opening on those flows would need no state, but a
/// stem that moves must put its displaced water somewhere. The sensing line begins ahead of the outlet cock: a stage that is
/// shut off senses what is shut in.
#pragma once

#include "models/laws/restriction.h"
#include "models/laws/storage.h"
#include "models/line.h"
#include "models/names.h"
#include "models/parts/check_valve.h"
#include "sim/contract/model.h"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <optional>
#include <string>
#include <tuple>
#include <vector>

namespace needleturn::models {

template <class P> struct CockOf {
    P capacity = 0; ///< C_full, m3 s-1 Pa-1/2, > 0

    /// Of the capacity: 0.8 mm3/s at 10 bar through a DN100, where rate B of ISO 5208 (from memory) lets 1 mm3/s pass. A tenth of
    /// it would leave the pressure between two shut cocks to rounding.
    static constexpr double leak = 1e-9;

    /// Equation (33), m3/s.
    template <class S> S flow(S opening, S from, S to) const {
        return open_capacity(opening) * drop_root(from - to, large_passage_knee);
    }
    /// The drop, Pa, at which (33) gives this flow, m3/s: equation (1).
    double drop(double opening, double flow) const {
        const double q = flow / open_capacity(opening);
        return (std::sqrt(large_passage_knee / 2) + std::abs(q)) * q;
    }
    template <class S> S open_capacity(S opening) const {
        using std::max;
        using std::min;
        const S h = min(max(opening, 0.0), 1.0);
        return capacity * (h * h + leak);
    }

    static constexpr auto fields(auto& of) { return std::tie(of.capacity); }
    bool operator==(const CockOf&) const = default;
};
using Cock = CockOf<double>;

/// A cock, and the part of the valve's body between it and the seat.
template <class P> struct BodyCockOf {
    CockOf<P> cock;
    StorageOf<P> space;

    /// `drive` is where the cock's opening is among the values. The flow is positive in the direction of the station's flow.
    template <class On>
    void visit(On& on, std::size_t drive, const PortOf<P>& from, const PortOf<P>& to) const {
        on(reads(from.pressure, to.pressure, drive), writes(from.pressure, to.pressure),
           [this, per_from = from.per_volume, per_to = to.per_volume](auto p_from, auto p_to, auto h) {
               const auto q = cock.flow(h, p_from, p_to);
               return rates(-q * per_from, q * per_to);
           });
    }

    static constexpr auto fields(auto& of) { return std::tie(of.cock, of.space); }
    bool operator==(const BodyCockOf&) const = default;
};
using BodyCock = BodyCockOf<double>;

/// Where a stage rests between steady pressures: a guess. `body` and `valve_outlet` are ahead of and behind its seat.
struct StageRest {
    double lift = 0, cover = 0, pilot_lift = 0, flow = 0, body = 0, valve_outlet = 0;
    double sustaining_lift = 0; ///< only with a sustaining pilot
};

/// Where the pressures ahead of and behind the seat are among the values: those of the line where there is no cock between. And
/// the drives of the cocks, which mean nothing without them.
struct StageCocksIndex {
    std::size_t body = 0, valve_outlet = 0, cock = 0, outlet_cock = 0;
};

/// The pressure points of the line beside a stage, and the stage's own.
template <class P> struct StagePortsOf { PortOf<P> inlet_port, body_port, valve_outlet_port, outlet_port; };

/// Where a stage stands in the line, its cocks, and the check valve between seat and outlet cock. Any may be absent: then there is
/// nothing to shut on that side.
template <class P> struct StageCocksOf {
    std::optional<BodyCockOf<P>> inlet = std::nullopt, outlet = std::nullopt;
    std::optional<BetweenPoints> between =
        std::nullopt; ///< of the first step of two; absent: the station's inlet and outlet
    std::optional<CheckValveOf<P>> check = std::nullopt;

    BetweenPoints points(const LineOf<P>& line) const {
        return between.value_or(BetweenPoints{line.inlet, line.outlet});
    }
    void name_states(StageCocksIndex& at, Names& names, const std::string& stage,
                     const LineOf<P>& line) const {
        names.part = stage + " body";
        at.body =
            inlet ? names.add(stage + ".body_pressure", pascal, bar, "pressure between inlet cock and seat")
                  : line.points[points(line).from].pressure;
        at.valve_outlet = outlet || check ? names.add(stage + ".valve_outlet_pressure", pascal, bar,
                                                      check ? "pressure between seat and check valve"
                                                            : "pressure between seat and outlet cock")
                                          : line.points[points(line).to].pressure;
    }
    void name_drives(StageCocksIndex& at, Names& drives, const std::string& stage) const {
        if (inlet)
            at.cock = drives.add(stage + ".cock", "1", 1, "opening of the inlet cock, 0 shut to 1 open");
        if (outlet)
            at.outlet_cock =
                drives.add(stage + ".outlet_cock", "1", 1, "opening of the outlet cock, 0 shut to 1 open");
    }

    void join(const StageCocksIndex& at, StagePortsOf<P>& ports, const LineOf<P>& line) const {
        ports.inlet_port = line.points[points(line).from];
        ports.outlet_port = line.points[points(line).to];
        ports.body_port = inlet ? inlet->space.port(at.body) : ports.inlet_port;
        ports.valve_outlet_port = outlet  ? outlet->space.port(at.valve_outlet)
                                  : check ? check->space.port(at.valve_outlet)
                                          : ports.outlet_port;
    }

    template <class On> void visit_storages(const On& on, const StageCocksIndex& at) const {
        if (inlet)
            on(at.body, inlet->space);
        if (outlet)
            on(at.valve_outlet, outlet->space);
        else if (check)
            on(at.valve_outlet, check->space);
    }

    template <class On> void visit(On& on, const StageCocksIndex& at, const StagePortsOf<P>& ports) const {
        if (inlet)
            inlet->visit(on, at.cock, ports.inlet_port, ports.body_port);
        if (check)
            visit_check(on, at, ports.valve_outlet_port, ports.outlet_port);
        else if (outlet)
            outlet->visit(on, at.outlet_cock, ports.valve_outlet_port, ports.outlet_port);
    }

    /// The check alone, or with the outlet cock behind it.
    template <class On>
    void visit_check(On& on, const StageCocksIndex& at, const PortOf<P>& from, const PortOf<P>& to) const {
        const P per_from = from.per_volume, per_to = to.per_volume;
        if (!outlet)
            return on(reads(from.pressure, to.pressure), writes(from.pressure, to.pressure),
                      [this, per_from, per_to](auto p_from, auto p_to) {
                          const auto q = check->flow(p_from, p_to);
                          return rates(-q * per_from, q * per_to);
                      });
        on(reads(from.pressure, to.pressure, at.outlet_cock), writes(from.pressure, to.pressure),
           [this, per_from, per_to](auto p_from, auto p_to, auto h) {
               const auto q = CheckValveOf<P>::passes(
                   in_series(check->capacity, outlet->cock.open_capacity(h)), p_from, p_to);
               return rates(-q * per_from, q * per_to);
           });
    }

    /// `rest_of(body, valve_outlet)` is the rest of the stage alone: of all flows the one that cocks and stage pass alike.
    template <class Drive, class RestOf> StageRest rest(const StageCocksIndex& at, const Drive& drive,
                                                        double p1, double p2, const RestOf& rest_of) const {
        if (check && p1 <= p2)
            return rest_of(p1, p1); // what stands above it does not come back
        if ((!inlet && !outlet && !check) || p1 <= p2)
            return rest_of(p1, p2);
        const double opening = inlet ? drive(at.cock) : 1,
                     outlet_opening = outlet ? drive(at.outlet_cock) : 1;
        double checked = 0; // capacity of the check, with the cock behind it
        if (check)
            checked = outlet ? in_series(check->capacity, outlet->cock.open_capacity(outlet_opening))
                             : check->capacity;
        double low = 0;
        double high = std::min(inlet ? inlet->cock.flow(opening, p1, p2) : unlimited,
                               check    ? CheckValveOf<P>::passes(checked, p1, p2)
                               : outlet ? outlet->cock.flow(outlet_opening, p1, p2)
                                        : unlimited);
        const auto behind_cocks = [&](double flow) {
            return rest_of(p1 - (inlet ? inlet->cock.drop(opening, flow) : 0),
                           p2
                               + (check    ? CheckValveOf<P>::drop(checked, flow)
                                  : outlet ? outlet->cock.drop(outlet_opening, flow)
                                           : 0));
        };
        constexpr int halvings = 40;
        for (int half = 0; half < halvings; ++half) {
            const double flow = 0.5 * (low + high);
            const auto rest = behind_cocks(flow);
            (rest.body > rest.valve_outlet && rest.flow > flow ? low : high) = flow;
        }
        return behind_cocks(low);
    }
    void put_rest(const StageCocksIndex& at, const StageRest& rest, std::vector<double>& y) const {
        if (inlet)
            y[at.body] = inlet->space.virtual_pressure(rest.body);
        if (outlet)
            y[at.valve_outlet] = outlet->space.virtual_pressure(rest.valve_outlet);
        else if (check)
            y[at.valve_outlet] = check->space.virtual_pressure(rest.valve_outlet);
    }

    static constexpr auto fields(auto& of) { return std::tie(of.inlet, of.outlet, of.between, of.check); }
    bool operator==(const StageCocksOf&) const = default;

  private:
    static constexpr double unlimited = 1e9; ///< m3/s
};
using StageCocks = StageCocksOf<double>;

} // namespace needleturn::models
