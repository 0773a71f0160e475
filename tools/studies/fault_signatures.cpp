#include "tools/studies/fault_signatures.h"

#include "scenarios/read_scenario.h"
#include "sim/equilibrium.h"
#include "tools/studies/commissioned.h"
#include "tools/studies/simulate.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <optional>
#include <stdexcept>
#include <utility>

namespace needleturn {

namespace {

using scenarios::Dimension;
using scenarios::Scenario;
using scenarios::Stage;

/// One state of health: a change of the scenario, or of the parts built from it.
struct Fault {
    std::string name, remedy;
    std::function<void(Scenario&, Stage& main)> set_up = {};
    std::function<void(models::PilotStage& main, double opening_turns)> wear = {};
};

/// Direct-acting stages beside the main valve.
bool has_bypass(const Scenario& scenario) {
    return std::ranges::any_of(scenario.stages, [](const Stage& stage) { return stage.direct_acting(); });
}

/// Sizes of the faults: so large that a fitter would be called, chosen; the sizes of real ones vary.
std::vector<Fault> library(const Scenario& scenario) {
    using models::PilotStage;
    constexpr double nearly_shut = 0.1; // turns
    std::vector<Fault> faults{
        {"healthy", "nothing"},
        {"air in the cover", "bleed the cover at its highest point until water runs clear",
         [](Scenario&, Stage& main) {
             main.air_in_cover = {0.15 * main.pilot_operated()->cover.volume, {}};
         }},
        {"fixed restriction or strainer plugged",
         "clean the strainer and the fixed restriction",
         {},
         [](PilotStage& main, double) { main.restriction_capacity *= 0.15; }},
        {"opening control nearly shut", "count the turns of the opening control",
         [](Scenario&, Stage& main) { main.opening_control = nearly_shut; }},
        {"closing control nearly shut", "count the turns of the closing control",
         [](Scenario&, Stage& main) { main.closing_control = nearly_shut; }},
        {"check of the opening control stuck open",
         "take out and clean the check of the opening control",
         {},
         // Its needle passes what the check lets by besides.
         [](PilotStage& main, double turns) {
             auto& control = main.opening_control;
             const double needle = control.needle_capacity(turns);
             control.capacity *= (needle + control.check_capacity) / needle;
         }},
        {"pilot sluggish",
         "exercise the pilot; clean its stem, look at its diaphragm",
         {},
         [](PilotStage& main, double) { main.pilot.stem_damping *= 3000; }},
        {"pilot diaphragm leaking",
         "look for water at the vent of the pilot's spring chamber",
         {},
         [](PilotStage& main, double) { main.leaks.pilot_diaphragm = 0.35 * main.sensing_line.capacity; }},
        {"main diaphragm leaking",
         "shut the pilot's cocks: does the cover still drain to the outlet?",
         {},
         [](PilotStage& main, double) { main.leaks.main_diaphragm = 1.2 * main.restriction_capacity; }},
        {"seat held open by debris",
         "flush at full lift; open the valve and look at seat and disc",
         {},
         [](PilotStage& main, double) { main.leaks.seat = 0.003 * main.valve.trim.capacity; }},
        {"sensing line throttled",
         "blow through the sensing line, open its cock fully",
         {},
         [](PilotStage& main, double) {
             constexpr double left = 0.02;
             main.sensing_line.capacity *= left;
             main.sensing_line.resistance +=
                 std::sqrt(models::small_passage_knee / 2) / main.sensing_line.capacity;
         }},
        {"sensing line isolated",
         "open the cock of the sensing line",
         {},
         [](PilotStage& main, double) {
             constexpr double left = 1e-5;
             main.sensing_line.capacity *= left;
             main.sensing_line.resistance +=
                 std::sqrt(models::small_passage_knee / 2) / main.sensing_line.capacity;
         }},
        {"pilot set too close to the inlet pressure", "compare the inlet gauge with the setting",
         [](Scenario& station, Stage& main) { main.set_pressure = station.supply.pressure - 0.2e5; }},
        {"inlet starved", "watch the inlet gauge while water runs; look for a cock half shut upstream",
         [](Scenario& station, Stage&) {
             auto& pipe = station.supply.pipe;
             pipe.bore *= 0.4;
             pipe.roughness = std::min(pipe.roughness, pipe.bore / 25);
         }},
    };
    if (has_bypass(scenario))
        faults.push_back({"bypass set below the main valve",
                          "shut off the main valve and read the bypass statically",
                          [](Scenario& station, Stage& main) {
                              for (auto& stage : station.stages)
                                  if (stage.direct_acting())
                                      stage.set_pressure = main.set_pressure - 1e5;
                          }});
    return faults;
}

constexpr double low_until = 15, full_until = 40, low_again_until = 55, stop_until = 90; // s
constexpr double hand = 2;                                                               // s, to open outlets
constexpr double slow_hand = 10; // s, to shut them: a hand that knows of surge

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
}

Signature simulate_fault(Scenario scenario, const Fault& fault, std::size_t main) {
    Signature signature{fault.name, fault.remedy, {}, {}};
    if (fault.set_up)
        fault.set_up(scenario, scenario.stages[main]);
    auto installation = scenarios::build(scenario);
    const auto& name = scenario.stages[main].name;
    auto& stage = *std::ranges::find(installation.parts.stages, name, &models::PilotStage::name);
    if (fault.wear)
        fault.wear(stage, scenario.stages[main].opening_control);

    auto wanted = judged_signals(scenario);
    for (const auto& each : scenario.stages)
        wanted.push_back(each.name + ".set_pressure");
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

/// Index of the first stage with a pilot: the one that faults are put into.
std::size_t pilot_stage(const Scenario& scenario) {
    const auto main =
        std::ranges::find_if(scenario.stages, [](const Stage& stage) { return stage.pilot_operated(); });
    if (main == scenario.stages.end())
        throw std::invalid_argument("faults needs a pilot-operated stage: no stage has a pilot");
    return static_cast<std::size_t>(main - scenario.stages.begin());
}

/// What every state of health goes through: low flow, full flow, stopped.
Scenario trial_of(const Scenario& scenario) {
    const auto flows = proof_flows(scenario);
    Scenario trial = as_left(scenario);
    trial.supply.steps.clear();
    trial.demand.start = flows.low;
    // To rest by way of low flow: a line shut at full flow keeps what pressure it was shut with.
    trial.demand.steps = {
        {low_until, flows.full, hand}, {full_until, flows.low, slow_hand}, {low_again_until, 0, slow_hand}};
    trial.run.duration = stop_until;
    return trial;
}

/// Words a hand would use, and when they hold.
struct Word {
    std::string_view text;
    bool (*holds)(const Signature& signature, const Signature& healthy);
};

constexpr double noticed = 0.15e5; // Pa, what is called high or low

const std::vector<Word>& words() {
    using S = const Signature&;
    static const std::vector<Word> list{
        {"hunts at low flow", [](S s, S) { return s[Reading::low_swing] > 0; }},
        {"hunts at full flow", [](S s, S) { return s[Reading::swing] > 0; }},
        {"steady at low flow", [](S s, S) { return s[Reading::low_swing] == 0; }},
        {"steady at full flow", [](S s, S) { return s[Reading::swing] == 0; }},
        {"static pressure creeps up",
         [](S s, S h) {
             return s[Reading::creep] > 0.05e5
                    || s[Reading::static_pressure] > h[Reading::static_pressure] + noticed;
         }},
        {"static pressure too low",
         [](S s, S h) { return s[Reading::static_pressure] < h[Reading::static_pressure] - noticed; }},
        {"flowing pressure too high",
         [](S s, S h) { return s[Reading::flowing] > h[Reading::flowing] + noticed; }},
        {"flowing pressure too low",
         [](S s, S h) { return s[Reading::flowing] < h[Reading::flowing] - noticed; }},
        {"sags when flow is brought on",
         [](S s, S h) { return s[Reading::sag] < h[Reading::sag] - noticed; }},
        {"surges when flow stops", [](S s, S h) { return s[Reading::surge] > h[Reading::surge] + noticed; }},
        {"slow to respond", [](S s, S h) { return s[Reading::response] > 1.5 * h[Reading::response] + 1; }},
        {"inlet falls with flow", [](S s, S h) { return s[Reading::inlet] < h[Reading::inlet] - noticed; }},
        {"water at the pilot's vent", [](S s, S) { return s[Reading::drip] > 0; }},
    };
    return list;
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

const ReadingKind& kind_of(Reading reading) {
    constexpr double gauge = 0.2e5; // Pa: 5 % of it is a twentieth of a division
    static const std::array<ReadingKind, reading_count> kinds{{
        {"static", Dimension::pressure, gauge, "outlet gauge at rest"},
        {"creep", Dimension::pressure, gauge, "rise of the outlet gauge at rest, in a minute"},
        {"low", Dimension::pressure, gauge, "outlet gauge at low flow"},
        {"low-swing", Dimension::pressure, gauge, "hunting at low flow, peak to peak"},
        {"low-period", Dimension::time, 0.2, "period of the hunting at low flow"},
        {"flowing", Dimension::pressure, gauge, "outlet gauge at full flow"},
        {"peak-to-peak", Dimension::pressure, gauge, "hunting at full flow, peak to peak"},
        {"period", Dimension::time, 0.2, "period of the hunting at full flow"},
        {"inlet", Dimension::pressure, gauge, "inlet gauge at full flow"},
        {"cover", Dimension::pressure, gauge, "cover gauge at full flow"},
        {"sag", Dimension::pressure, gauge, "lowest outlet pressure when flow is brought on"},
        {"surge", Dimension::pressure, gauge, "highest outlet pressure when flow is stopped"},
        {"response", Dimension::time, 1, "time from opening outlets until the outlet gauge is steady"},
        {"flow", Dimension::flow, 1e-4, "flow delivered at full flow"},
        {"drip", Dimension::flow, 1e-5, "water from the pilot's vent"},
    }};
    return kinds[static_cast<std::size_t>(reading)];
}

Signature healthy_signature(const Scenario& scenario) {
    return simulate_fault(trial_of(scenario), library(scenario).front(), pilot_stage(scenario));
}

std::vector<Signature> fault_signatures(const Scenario& scenario, const std::function<void()>& one_more) {
    const auto main = pilot_stage(scenario);
    const auto trial = trial_of(scenario);
    std::vector<Signature> signatures;
    for (const auto& fault : library(scenario)) {
        signatures.push_back(simulate_fault(trial, fault, main));
        if (one_more)
            one_more();
    }
    return signatures;
}

std::vector<std::string> sighting_words() {
    std::vector<std::string> list;
    for (const auto& word : words())
        list.emplace_back(word.text);
    return list;
}

Sighting parse_sighting(std::span<const std::string> seen) {
    Sighting sighting;
    for (const auto& text : seen) {
        const auto equals = text.find('=');
        if (equals == std::string::npos) {
            if (std::ranges::find(words(), text, &Word::text) == words().end())
                throw scenarios::ScenarioError(
                    fmt::format("--seen \"{}\": unknown; allowed: {}; or a reading, \"static=4.9 bar\"", text,
                                fmt::join(sighting_words(), ", ")));
            sighting.words.push_back(text);
            continue;
        }
        const auto key = text.substr(0, equals);
        const auto* const reading =
            std::ranges::find(all_readings(), key, [](Reading each) { return kind_of(each).key; });
        if (reading == all_readings().end()) {
            std::vector<std::string_view> keys;
            for (const auto each : all_readings())
                keys.push_back(kind_of(each).key);
            throw scenarios::ScenarioError(fmt::format("--seen \"{}\": {} is no reading; allowed: {}", text,
                                                       key, fmt::join(keys, ", ")));
        }
        try {
            sighting.numbers.push_back(
                {*reading, scenarios::parse_quantity(text.substr(equals + 1), kind_of(*reading).dimension)});
        } catch (const scenarios::UnitError& error) {
            throw scenarios::ScenarioError(fmt::format("--seen \"{}\": {}", text, error.what()));
        }
    }
    return sighting;
}

std::vector<Ranked> rank(std::span<const Signature> signatures, const Sighting& sighting) {
    std::vector<Ranked> ranking;
    for (std::size_t i = 0; i < signatures.size(); ++i) {
        const auto& signature = signatures[i];
        if (!signature.failure.empty())
            continue;
        double distance = 0;
        for (const auto& seen : sighting.numbers) {
            const double expected = signature[seen.reading];
            const double off = (seen.value - expected) / uncertainty(seen.reading, expected);
            distance += off * off;
        }
        for (const auto& text : sighting.words)
            if (!std::ranges::find(words(), text, &Word::text)->holds(signature, signatures.front()))
                distance += not_told_apart;
        ranking.push_back({i, distance});
    }
    std::ranges::stable_sort(ranking, {}, &Ranked::distance);
    return ranking;
}

std::vector<Ranked> candidates(std::span<const Ranked> ranking) {
    std::vector<Ranked> near;
    for (const auto& ranked : ranking)
        if (ranked.distance < ranking.front().distance + not_told_apart)
            near.push_back(ranked);
    return near;
}

Separating separating_reading(const Signature& one, const Signature& other, const Sighting& sighting) {
    Separating best;
    double widest = 3;
    for (const auto reading : all_readings()) {
        if (std::ranges::find(sighting.numbers, reading, &Seen::reading) != sighting.numbers.end())
            continue;
        const double a = one[reading], b = other[reading];
        const double apart = std::abs(a - b) / uncertainty(reading, std::max(std::abs(a), std::abs(b)));
        if (apart >= widest) {
            widest = apart;
            best = {true, reading};
        }
    }
    return best;
}

} // namespace needleturn
