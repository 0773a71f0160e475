/// What the page may ask of the solver, as plain C functions. Texts go in and out as UTF-8; an answer stands until the
/// next question. A question that cannot be answered returns null (or -1, or false), and rig_error() says why in a line.
#include "tools/rig/exports.h"
#include "scenarios/demands.h"
#include "scenarios/read_scenario.h"
#include "scenarios/units.h"
#include "tools/page/page_controls.h"
#include "tools/page/page_limits.h"
#include "tools/page/page_texts.h"
#include "tools/page/page_units.h"
#include "tools/rig/hidden_fault.h"
#include "tools/rig/rig_session.h"
#include "tools/studies/commissioned.h"
#include "tools/studies/verdict.h"

#include <emscripten/emscripten.h>
#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include <map>
#include <memory>
#include <string>
#include <vector>

using namespace needleturn;
using namespace needleturn::rig;
using nlohmann::json;

namespace {

std::map<int, std::unique_ptr<RigSession>> sessions;
std::vector<double> samples;
std::unique_ptr<FaultBook> book;

std::vector<scenarios::Override> overrides(const char* text) {
    std::vector<scenarios::Override> changes;
    for (auto& line : lines(text))
        changes.push_back({line});
    return changes;
}

scenarios::Scenario parsed(const char* text, const char* name, const char* changes = "") {
    const std::filesystem::path folders[] = {hardware_folder};
    return scenarios::parse_scenario(text, name, overrides(changes), folders);
}

scenarios::Scenario packed(const char* name, const char* changes = "") {
    return scenarios::read_scenario(packed_folder / (std::string(name) + ".toml"), overrides(changes));
}

json stage_facts(const scenarios::Stage& stage) {
    json facts{{"name", stage.name},
               {"set_pressure", stage.set_pressure},
               {"first_step", stage.first_step},
               {"check", stage.check_valve.has_value()},
               {"sustaining", stage.sustaining_pressure.has_value()},
               {"night", stage.night_setting.has_value()}};
    if (const auto* valve = stage.pilot_operated()) {
        facts["kind"] = "pilot-operated";
        facts["hardware"] = valve->name;
        facts["full_lift"] = valve->main_valve.full_lift;
        facts["seat_area"] = valve->main_valve.seat_area;
        facts["cover_volume"] = valve->cover.volume;
        facts["pilot_full_lift"] = valve->pilot.full_lift;
        facts["full_turns"] = valve->speed_control.full_turns;
        facts["pressure_per_turn"] = valve->pilot.pressure_per_turn;
    } else {
        const auto& direct = *stage.direct_acting();
        facts["kind"] = "direct-acting";
        facts["hardware"] = direct.name;
        facts["full_lift"] = direct.full_lift;
        facts["pressure_per_turn"] = direct.pressure_per_turn;
    }
    return facts;
}

json described(const RigSession& session) {
    const auto& scenario = session.scenario();
    json facts{{"title", scenario.title},
               {"question", scenario.question},
               {"units", scenario.units == scenarios::UnitSystem::si ? "SI" : "US"},
               {"stages", json::array()},
               {"reliefs", json::array()},
               {"controls", json::array()},
               {"schedule", json::array()},
               {"limits", page_limits()},
               {"unit_table", page_units()},
               {"quantities", json::array()}};
    for (const auto& stage : scenario.stages)
        facts["stages"].push_back(stage_facts(stage));
    scenarios::visit_reliefs(scenario,
                             [&](const scenarios::ReliefValve& relief, const scenarios::Branch* branch) {
                                 const bool near = relief.at == scenarios::ReliefValve::At::near_end;
                                 facts["reliefs"].push_back({{"name", relief.name},
                                                             {"seat_bore", relief.seat_bore},
                                                             {"set_pressure", relief.set_pressure},
                                                             {"at", branch ? branch->name
                                                                    : near ? "outlet"
                                                                           : "far_end"}});
                             });
    for (const auto& control : session.controls())
        facts["controls"].push_back(page_control(control, control.low, control.high));
    const auto events = events_of(scenario);
    const auto names = page_texts(scenarios::in_both_systems(scenario, names_of_events));
    for (std::size_t i = 0; i < events.size(); ++i)
        if (events[i].at > 0)
            facts["schedule"].push_back({{"at", events[i].at}, {"what", names[i]}});
    for (const auto& quantity : session.quantities())
        facts["quantities"].push_back(quantity.name);
    return facts;
}

json told(const scenarios::Scenario& scenario, const Outcome& outcome) {
    const auto names = page_texts(scenarios::in_both_systems(scenario, names_of_events));
    json events = json::array();
    for (const auto& event : outcome.verdict) {
        json findings = json::array();
        for (const auto& finding : event.findings)
            findings.push_back({{"limit", finding.what().key()},
                                {"reason", name(finding.reason)},
                                {"undecided", finding.undecided},
                                {"value", finding.value},
                                {"bound", finding.bound},
                                {"doubt", finding.doubt},
                                {"detail", finding.detail},
                                {"place", finding.place}});
        events.push_back({{"at", event.event.at},
                          {"what", names.at(events.size())},
                          {"flow", event.flow},
                          {"flowing_pressure", event.flowing_pressure},
                          {"highest", event.highest},
                          {"lowest", event.lowest},
                          {"hunts", event.hunts()},
                          {"peak_to_peak", event.swing()},
                          {"findings", findings}});
    }
    return {{"failure", outcome.record.failure}, {"passed", outcome.passed}, {"events", events}};
}

RigSession& session(int number) { return *sessions.at(number); }

int kept(std::unique_ptr<RigSession> session) {
    static int last = 0;
    sessions[++last] = std::move(session);
    return last;
}

} // namespace

extern "C" {

EMSCRIPTEN_KEEPALIVE const char* rig_error() { return error.c_str(); }

/// Opens a scenario's text, with overrides one a line; `name` stands for it in errors. The number of the session, or -1.
EMSCRIPTEN_KEEPALIVE int rig_open(const char* text, const char* name, const char* changes) {
    return guarded(-1, [&] { return kept(std::make_unique<RigSession>(parsed(text, name, changes))); });
}

/// The same of a scenario that is packed into the module: "nursery-night".
EMSCRIPTEN_KEEPALIVE int rig_open_packed(const char* name, const char* changes) {
    return guarded(-1, [&] { return kept(std::make_unique<RigSession>(packed(name, changes))); });
}

EMSCRIPTEN_KEEPALIVE int rig_twin(int number) {
    return guarded(-1, [&] { return kept(session(number).twin()); });
}

EMSCRIPTEN_KEEPALIVE void rig_close(int number) { sessions.erase(number); }

/// Title, stages, controls and names of quantities, as JSON.
EMSCRIPTEN_KEEPALIVE const char* rig_describe(int number) {
    return guarded(no_text, [&] { return answered(dumped(described(session(number)))); });
}

EMSCRIPTEN_KEEPALIVE double rig_time(int number) { return session(number).time(); }

/// Goes on to `until`, s. False when the solver gives up.
EMSCRIPTEN_KEEPALIVE bool rig_advance(int number, double until) {
    return guarded(false, [&] { return session(number).advance(until), true; });
}

EMSCRIPTEN_KEEPALIVE const double* rig_values(int number) { return session(number).values().data(); }

/// Where the controls stand, in the order of the description.
EMSCRIPTEN_KEEPALIVE const double* rig_standings(int number) {
    static std::vector<double> standings;
    standings.clear();
    for (const auto& control : session(number).controls())
        standings.push_back(session(number).value(control));
    return standings.data();
}

EMSCRIPTEN_KEEPALIVE bool rig_turn(int number, const char* control, double to, double over) {
    return guarded(false, [&] { return session(number).turn(control, to, over), true; });
}

/// Names one a line.
EMSCRIPTEN_KEEPALIVE bool rig_watch(int number, const char* names, double interval) {
    return guarded(false, [&] { return session(number).watch(lines(names), interval), true; });
}

/// How many numbers rig_samples() then points at.
EMSCRIPTEN_KEEPALIVE int rig_take_samples(int number) {
    samples = session(number).take_samples();
    return static_cast<int>(samples.size());
}
EMSCRIPTEN_KEEPALIVE const double* rig_samples() { return samples.data(); }

EMSCRIPTEN_KEEPALIVE bool rig_remember(int number) {
    return guarded(false, [&] { return session(number).remember(), true; });
}
EMSCRIPTEN_KEEPALIVE bool rig_back(int number) {
    return guarded(false, [&] { return session(number).back(); });
}
EMSCRIPTEN_KEEPALIVE int rig_remembered(int number) { return static_cast<int>(session(number).remembered()); }

/// The session so far as a scenario, complete: `needleturn run` repeats it.
EMSCRIPTEN_KEEPALIVE const char* rig_scenario(int number) {
    return guarded(no_text, [&] { return answered(scenarios::resolved(session(number).so_far())); });
}

/// Runs the session so far, or else the bench as it stands, from its start with these overrides, and judges it. JSON.
EMSCRIPTEN_KEEPALIVE const char* rig_judge(int number, bool so_far, const char* changes) {
    return guarded(no_text, [&] {
        const auto scenario = scenarios::parse_scenario(
            scenarios::resolved(so_far ? session(number).so_far() : session(number).as_it_stands()), "rig",
            overrides(changes));
        return answered(dumped(told(scenario, simulate(scenario, {}, Signals::judged))));
    });
}

/// A station to hide a fault in, as a scenario, complete: a bench as its hands have set it, or a packed one as adjusted.
EMSCRIPTEN_KEEPALIVE const char* rig_station(int number) {
    return guarded(no_text, [&] { return answered(scenarios::resolved(session(number).as_set())); });
}
EMSCRIPTEN_KEEPALIVE const char* rig_station_packed(const char* name) {
    return guarded(no_text, [&] { return answered(scenarios::resolved(as_adjusted(packed(name)))); });
}

/// What can be wrong with a station and be seen of it: page_library.
EMSCRIPTEN_KEEPALIVE const char* rig_library(const char* text, const char* name) {
    return guarded(no_text, [&] { return answered(dumped(page_library(parsed(text, name)))); });
}

/// A bench with a fault in it, by its name in the library. The number of the session, or -1.
EMSCRIPTEN_KEEPALIVE int rig_open_faulty(const char* text, const char* name, const char* fault) {
    return guarded(-1, [&] {
        const auto scenario = parsed(text, name);
        return kept(bench_with_fault(scenario, fault_named(scenario, fault)));
    });
}

/// Begins to simulate the faults of a station: how many there are, or -1.
EMSCRIPTEN_KEEPALIVE int rig_book(const char* text) {
    return guarded(-1, [&] {
        book = std::make_unique<FaultBook>(parsed(text, "station"));
        return static_cast<int>(book->faults().size());
    });
}
/// Simulates one of them, by its name in the library.
EMSCRIPTEN_KEEPALIVE bool rig_book_simulate(const char* fault) {
    return guarded(false, [&] { return book->simulate(book->fault_named(fault)), true; });
}
/// Two that were simulated side by side; once all are, what was seen, a line each as after `faults --seen`, ranked. JSON.
EMSCRIPTEN_KEEPALIVE const char* rig_book_compared(const char* truth, const char* named, const char* seen) {
    return guarded(no_text, [&] {
        return answered(
            dumped(book->compared(book->fault_named(truth), book->fault_named(named), lines(seen))));
    });
}
}
