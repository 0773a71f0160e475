#include "tools/studies/fault_signatures.h"

#include "scenarios/build.h"
#include "scenarios/demands.h"
#include "sim/equilibrium.h"
#include "tools/studies/commissioned.h"
#include "tools/studies/outlets.h"
#include "tools/studies/simulate.h"

#include <algorithm>
#include <cmath>
#include <stdexcept>
#include <tuple>
#include <utility>

namespace needleturn {

namespace {

using scenarios::Dimension;
using scenarios::Scenario;

constexpr double low_until = 15, full_until = 40, low_again_until = 55, stop_until = 90; // s

double period_of(double frequency) { return frequency > 0 ? 1 / frequency : 0; }

void take_readings(Signature& signature, const Outcome& outcome, const std::string& main, double interval) {
    const auto put = [&](Reading reading, double value) {
        signature.value[static_cast<std::size_t>(reading)] = value;
    };
    const auto& low = outcome.verdict.at(0);
    const auto& full = outcome.verdict.at(1);
    const auto& reduced = outcome.verdict.at(2);
    const auto& stopped = outcome.verdict.at(3);
    const auto& recording = outcome.record.recording;
    const auto at = [&](double t) { return static_cast<std::size_t>(std::lround(t / interval)); };
    const auto mean = [&](const std::string& name, double begin, double end) {
        const auto& signal = recording[name];
        double sum = 0;
        for (auto k = at(begin); k < at(end); ++k)
            sum += signal[k];
        return sum / static_cast<double>(at(end) - at(begin));
    };
    put(Reading::static_pressure, mean("outlet.pressure", stop_until - 3, stop_until));
    const double rise = mean("outlet.pressure", stop_until - 3, stop_until)
                        - mean("outlet.pressure", stop_until - 18, stop_until - 15);
    put(Reading::creep, rise * 60 / 15);
    put(Reading::low, low.flowing_pressure);
    put(Reading::flowing, full.flowing_pressure);
    for (const auto& [verdict, swing, period] : {std::tuple{&low, Reading::low_swing, Reading::low_period},
                                                 std::tuple{&full, Reading::swing, Reading::period}})
        // What grows too slowly to be seen is none of what a gauge shows.
        if (const double size = std::isfinite(verdict->swing()) ? verdict->swing() : verdict->stability.span;
            verdict->hunts() && size >= visible_flicker) {
            put(swing, size);
            const double frequency =
                verdict->hunts_in_window() ? verdict->hunting.frequency : verdict->stability.frequency;
            put(period, period_of(frequency));
        }
    put(Reading::inlet, mean("inlet.pressure", full_until - 6, full_until));
    put(Reading::cover, mean(main + ".cover_pressure", full_until - 6, full_until));
    put(Reading::sag, full.lowest);
    put(Reading::surge, std::max(reduced.highest, stopped.highest));
    const double longest = full_until - low_until;
    put(Reading::response, full.hunts_in_window() ? longest : std::min(full.settling_time, longest));
    put(Reading::flow, full.flow);
    const auto water = main + "_bleed.water";
    if (recording.has(water))
        put(Reading::drip,
            (recording[water][at(full_until)] - recording[water][at(low_until)]) / (full_until - low_until));
    for (const auto& event : outcome.verdict)
        for (const auto& relief : event.reliefs)
            if (relief.opens() && std::ranges::count(signature.relieved, relief.name) == 0)
                signature.relieved.push_back(relief.name);
}

Signature simulate_state(const Scenario& trial, Fault fault) {
    Signature signature;
    signature.fault = fault;
    const auto [scenario, wear] = with_fault(trial, fault);
    auto installation = scenarios::build(scenario);
    if (wear)
        wear(installation);
    const auto& name = scenario.stages[pilot_stage(scenario)].name;
    const auto& stage = *std::ranges::find(installation.parts.stages, name, &models::PilotStage::name);

    auto wanted = judged_signals(scenario);
    for (const auto& each : scenario.stages)
        wanted.push_back(each.name + ".set_pressure");
    for (auto& signal : relief_signals(scenario))
        wanted.push_back(std::move(signal));
    wanted.emplace_back("inlet.pressure");
    wanted.push_back(name + ".cover_pressure");
    if (stage.leaks.pilot_diaphragm > 0)
        wanted.push_back(name + "_bleed.water");
    try {
        const auto outcome = simulate(scenario, std::move(installation), {}, wanted);
        signature.failure = outcome.record.failure;
        if (signature.failure.empty())
            take_readings(signature, outcome, name,
                          scenario.run.sample_interval / static_cast<double>(outcome.stride));
    } catch (const sim::NoEquilibrium& error) {
        signature.failure = error.what();
    }
    return signature;
}

/// What every state of health goes through: low flow, full flow, stopped.
Scenario trial_of(const Scenario& scenario) {
    const auto flows = proof_flows(scenario);
    Scenario trial = as_adjusted(scenario);
    hold_supply(trial);
    const auto shares = shares_of(scenario);
    lay_flow(trial, flows.low, shares);
    visit_shares(trial, shares, [&](const std::string&, scenarios::Demand& demand, double share) {
        if (!(share > 0))
            return;
        // To rest by way of low flow: a line shut at full flow keeps what pressure it was shut with.
        demand.steps = {{low_until, share * flows.full, opens_in},
                        {full_until, share * flows.low, shuts_in},
                        {low_again_until, 0, shuts_in}};
    });
    trial.run.duration = stop_until;
    return trial;
}

double uncertainty(Reading reading, double value) {
    return reading_uncertainty * std::max(std::abs(value), kind_of(reading).least);
}

} // namespace

const std::array<Reading, reading_count>& all_readings() {
    static const auto all = [] {
        std::array<Reading, reading_count> list{};
        for (std::size_t i = 0; i < reading_count; ++i)
            list[i] = static_cast<Reading>(i);
        return list;
    }();
    return all;
}

ReadingKind kind_of(Reading reading) {
    switch (reading) {
    case Reading::low_period:
    case Reading::period:
        return {Dimension::time, 0.2};
    case Reading::response:
        return {Dimension::time, 1};
    case Reading::flow:
        return {Dimension::flow, 1e-4};
    case Reading::drip:
        return {Dimension::flow, 1e-5};
    default:
        return {Dimension::pressure, 0.2e5}; // 5 % of it is a twentieth of a division
    }
}

bool shows(const Signature& s, const Signature& healthy, Sign sign) {
    constexpr double noticed = 0.15e5; // Pa, what is called high or low
    const auto above = [&](Reading reading) { return s[reading] > healthy[reading] + noticed; };
    const auto below = [&](Reading reading) { return s[reading] < healthy[reading] - noticed; };
    switch (sign) {
    case Sign::hunts_at_low_flow:
        return s[Reading::low_swing] > 0;
    case Sign::hunts_at_full_flow:
        return s[Reading::swing] > 0;
    case Sign::steady_at_low_flow:
        return s[Reading::low_swing] == 0;
    case Sign::steady_at_full_flow:
        return s[Reading::swing] == 0;
    case Sign::static_creeps_up:
        return s[Reading::creep] > 0.05e5 || above(Reading::static_pressure);
    case Sign::static_too_low:
        return below(Reading::static_pressure);
    case Sign::flowing_too_high:
        return above(Reading::flowing);
    case Sign::flowing_too_low:
        return below(Reading::flowing);
    case Sign::sags_when_flow_comes:
        return below(Reading::sag);
    case Sign::surges_when_flow_stops:
        return above(Reading::surge);
    case Sign::slow_to_respond:
        return s[Reading::response] > 1.5 * healthy[Reading::response] + 1;
    case Sign::inlet_falls_with_flow:
        return below(Reading::inlet);
    case Sign::water_at_vent:
        return s[Reading::drip] > 0;
    }
    throw std::logic_error("faults: not a sign");
}

Signature fault_signature(const Scenario& scenario, Fault fault) {
    return simulate_state(trial_of(scenario), fault);
}

Signature healthy_signature(const Scenario& scenario) { return fault_signature(scenario, Fault::none); }

std::vector<Ranked> rank(std::span<const Signature> signatures, const Sighting& sighting) {
    std::vector<Ranked> ranking;
    for (std::size_t i = 0; i < signatures.size(); ++i) {
        const auto& signature = signatures[i];
        if (!signature.failure.empty())
            continue;
        Ranked ranked{.signature = i};
        for (const auto& seen : sighting.numbers) {
            const double expected = signature[seen.reading];
            const double off = (seen.value - expected) / uncertainty(seen.reading, expected);
            ranked.distance += off * off;
        }
        for (const auto sign : sighting.signs)
            if (!shows(signature, signatures.front(), sign)) {
                ranked.distance += not_told_apart;
                ++ranked.not_shown;
            }
        ranking.push_back(ranked);
    }
    std::ranges::stable_sort(ranking, {}, &Ranked::distance);
    return ranking;
}

double chance_reaches(std::size_t readings) {
    if (readings == 0)
        return 0;
    constexpr double deviate = 2.782; // of a normal distribution, exceeded in 0.27 of 100 cases
    const auto n = static_cast<double>(readings);
    const double spread = 2 / (9 * n);
    return n * std::pow(1 - spread + deviate * std::sqrt(spread), 3);
}

bool fits(const Ranked& ranked, const Sighting& sighting) {
    return ranked.not_shown == 0 && ranked.distance <= chance_reaches(sighting.numbers.size());
}

std::vector<Ranked> candidates(std::span<const Ranked> ranking) {
    std::vector<Ranked> near;
    for (const auto& ranked : ranking)
        if (ranked.distance < ranking.front().distance + not_told_apart)
            near.push_back(ranked);
    return near;
}

double uncertainties_apart(const Signature& one, const Signature& other, Reading reading) {
    const double a = one[reading], b = other[reading];
    return std::abs(a - b) / uncertainty(reading, std::max(std::abs(a), std::abs(b)));
}

Separating separating_reading(const Signature& one, const Signature& other, const Sighting& sighting) {
    Separating best;
    for (const auto reading : all_readings()) {
        if (std::ranges::find(sighting.numbers, reading, &Seen::reading) != sighting.numbers.end())
            continue;
        const double apart = uncertainties_apart(one, other, reading);
        if (apart > best.apart)
            best = {apart >= told_apart, reading, apart};
    }
    return best;
}

} // namespace needleturn
