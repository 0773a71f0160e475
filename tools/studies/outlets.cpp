#include "tools/studies/outlets.h"

#include "scenarios/plausibility.h"

#include <algorithm>
#include <cstddef>
#include <limits>
#include <numbers>
#include <numeric>

namespace needleturn {

using scenarios::Demand;
using scenarios::Scenario;

namespace {

double at_its_busiest(const Demand& demand) {
    double most = demand.start;
    for (const auto& step : demand.steps)
        most = std::max(most, step.to);
    return most;
}

/// Made to add up to 1; all of it the first one's where there is nothing.
void make_whole(std::vector<double>& shares) {
    const double all = std::accumulate(shares.begin(), shares.end(), 0.0);
    if (!(all > 0))
        shares.front() = 1;
    else
        for (auto& share : shares)
            share /= all;
}

} // namespace

std::vector<PlacedOutlet> outlets_of(const Scenario& scenario) {
    std::vector<PlacedOutlet> outlets;
    std::vector<double> shares;
    scenarios::visit_outlets(scenario, [&](const std::string& name, const Demand& demand) {
        outlets.push_back({name});
        shares.push_back(at_its_busiest(demand));
    });
    make_whole(shares);
    const auto heads = scenarios::outlet_heads(scenario);
    for (std::size_t i = 0; i < outlets.size(); ++i) {
        outlets[i].share = shares[i];
        outlets[i].head = heads[i];
    }
    return outlets;
}

std::vector<double> shares_of(const Scenario& scenario) {
    std::vector<double> shares;
    for (const auto& outlet : outlets_of(scenario))
        shares.push_back(outlet.share);
    return shares;
}

std::vector<double> shares_at_the_top(const std::vector<PlacedOutlet>& outlets) {
    constexpr double level = 0.1e5; // Pa: a metre, by which the water in a pipe may hang below an open outlet
    const auto top = std::ranges::max_element(outlets, {}, &PlacedOutlet::head);
    std::vector<double> shares;
    for (const auto& outlet : outlets)
        shares.push_back(outlet.head > top->head - level ? outlet.share : 0);
    if (std::ranges::max(shares) > 0)
        make_whole(shares);
    else
        shares[static_cast<std::size_t>(top - outlets.begin())] = 1;
    return shares;
}

std::vector<double> wanted_flows(const Scenario& scenario) {
    std::vector<double> times{-std::numeric_limits<double>::infinity()}; // as it starts
    scenarios::visit_outlets(scenario, [&](const std::string&, const Demand& demand) {
        for (const auto& step : demand.steps)
            times.push_back(step.at + step.over);
    });
    std::ranges::sort(times);
    std::vector<double> flows;
    for (const double time : times) {
        double flow = 0;
        scenarios::visit_outlets(scenario, [&](const std::string&, const Demand& demand) {
            flow += scenarios::wanted_at(demand, time);
        });
        flows.push_back(flow);
    }
    return flows;
}

void lay_flow(Scenario& scenario, double flow, const std::vector<double>& shares) {
    for (auto& consumer : scenario.supply.consumers)
        consumer.demand.steps.clear();
    visit_shares(scenario, shares, [flow](const std::string&, Demand& demand, double share) {
        demand.start = share * flow;
        demand.steps.clear();
    });
}

void lay_flow(Scenario& scenario, double flow) { lay_flow(scenario, flow, shares_of(scenario)); }

double standing_volume(const Scenario& scenario) {
    double volume = 0;
    const auto add = [&volume](const scenarios::Pipe& pipe, double from) {
        const double to = from + pipe.rise, low = std::min(from, to), high = std::max(from, to);
        const double share = high <= 0 ? 0 : low >= 0 ? 1 : high / (high - low);
        volume += share * std::numbers::pi / 4 * pipe.bore * pipe.bore * pipe.length;
        return to;
    };
    const auto& downstream = scenario.downstream;
    double height = add(downstream.pipe, 0);
    for (const auto& pipe : downstream.pipes_after)
        height = add(pipe, height);
    for (const auto& branch : downstream.branches)
        add(branch.pipe, height);
    return volume;
}

void as_outlets(Scenario& scenario, double outlet_pressure) {
    constexpr double least = 0.1; // of the pressure at the valve
    const auto heads = scenarios::outlet_heads(scenario);
    auto head = heads.begin();
    scenarios::visit_outlets(scenario, [&](const std::string&, Demand& demand) {
        const double left = outlet_pressure - std::max(0.0, *head++);
        if (demand.kind != Demand::Kind::draw)
            return;
        demand.kind = Demand::Kind::outlet;
        demand.at_pressure = std::max(left, least * outlet_pressure);
    });
}

} // namespace needleturn
