#include "tools/rig/hidden_fault.h"

#include "scenarios/in_both_systems.h"
#include "tools/commands/fault_words.h"
#include "tools/page/page_texts.h"
#include "tools/page/page_units.h"
#include "tools/studies/commissioned.h"

#include <fmt/format.h>

#include <algorithm>
#include <functional>
#include <stdexcept>
#include <utility>

namespace needleturn {

using nlohmann::json;
using scenarios::Dimension;
using scenarios::Scenario;

namespace {

json quantity(double value, Dimension dimension, const char* per = "") {
    const auto in = [&](scenarios::UnitSystem units) {
        return scenarios::format_quantity(value, dimension, units) + per;
    };
    return page_text({in(scenarios::UnitSystem::si), in(scenarios::UnitSystem::us)});
}

json shown(const Signature& signature, Reading reading) {
    return quantity(signature[reading], kind_of(reading).dimension, reading == Reading::creep ? "/min" : "");
}

json words(Fault fault) { return {{"name", words_of(fault).name}, {"remedy", words_of(fault).remedy}}; }

json reading_words(Reading reading) {
    return {{"key", words_of(reading).key}, {"meaning", words_of(reading).meaning}};
}

/// Readings in which two signatures differ at all, those first that differ most.
json side_by_side(const Signature& one, const Signature& other) {
    std::vector<std::pair<double, Reading>> apart;
    for (const auto reading : all_readings())
        apart.emplace_back(uncertainties_apart(one, other, reading), reading);
    std::ranges::stable_sort(apart, std::greater<>{}, [](const auto& each) { return each.first; });
    auto rows = json::array();
    for (const auto& [by, reading] : apart) {
        auto row = reading_words(reading);
        row["tells"] = by >= told_apart;
        row["values"] = {shown(one, reading), shown(other, reading)};
        rows.push_back(row);
    }
    return rows;
}

} // namespace

Fault fault_named(const Scenario& scenario, const std::string& name) {
    std::vector<std::string> names;
    for (const auto fault : faults_of(scenario)) {
        names.emplace_back(words_of(fault).name);
        if (names.back() == name)
            return fault;
    }
    throw std::invalid_argument(fmt::format(
        "\"{}\" is no fault that this station can have; the library has: {}", name, fmt::join(names, ", ")));
}

json page_library(const Scenario& scenario) {
    const auto flows = proof_flows(scenario);
    json all{{"faults", json::array()},
             {"signs", sign_names()},
             {"readings", json::array()},
             {"flows",
              {{"low", flows.low}, {"full", flows.full}, {"opens_in", opens_in}, {"shuts_in", shuts_in}}}};
    for (const auto fault : faults_of(scenario))
        all["faults"].push_back(words(fault));
    for (const auto reading : all_readings()) {
        auto row = reading_words(reading);
        row["unit"] = page_unit(kind_of(reading).dimension);
        all["readings"].push_back(row);
    }
    return all;
}

std::unique_ptr<RigSession> bench_with_fault(const Scenario& scenario, Fault fault) {
    auto [station, wear] = with_fault(as_adjusted(scenario), fault);
    auto bench = std::make_unique<RigSession>(std::move(station), std::move(wear));
    bench->drop_schedule();
    return bench;
}

FaultBook::FaultBook(Scenario scenario)
    : scenario_{std::move(scenario)},
      faults_{faults_of(scenario_)},
      signatures_(faults_.size()),
      known_(faults_.size(), false) {
    proof_flows(scenario_);
}

std::size_t FaultBook::place(Fault fault) const {
    return static_cast<std::size_t>(std::ranges::find(faults_, fault) - faults_.begin());
}

bool FaultBook::all_known() const { return std::ranges::find(known_, false) == known_.end(); }

void FaultBook::simulate(Fault fault) {
    const auto i = place(fault);
    if (!known_.at(i))
        signatures_[i] = fault_signature(scenario_, fault);
    known_[i] = true;
}

json FaultBook::compared(Fault truth, Fault named, const std::vector<std::string>& seen) const {
    const auto& true_one = signatures_.at(place(truth));
    const auto& named_one = signatures_.at(place(named));
    const auto flows = proof_flows(scenario_);
    json told{{"truth", words(truth)},
              {"named", words(named)},
              {"flows", {quantity(flows.low, Dimension::flow), quantity(flows.full, Dimension::flow)}},
              {"uncertainty", reading_uncertainty},
              {"told_apart", told_apart},
              {"failures", json::array()}};
    for (const auto* each : {&true_one, &named_one})
        if (!each->failure.empty())
            told["failures"].push_back(words_of(each->fault).name + (": " + each->failure));
    told["readings"] = told["failures"].empty() ? side_by_side(true_one, named_one) : json::array();
    told["alike"] = told["ranking"] = json::array();
    if (!all_known())
        return told;
    // Of the other faults those that all readings together do not tell from the truth.
    Sighting everything;
    for (const auto reading : all_readings())
        everything.numbers.push_back({reading, true_one[reading]});
    if (true_one.failure.empty())
        for (const auto& near : candidates(rank(signatures_, everything)))
            if (signatures_[near.signature].fault != truth)
                told["alike"].push_back(words(signatures_[near.signature].fault));
    if (seen.empty())
        return told;
    const auto sighting = parse_sighting(seen);
    const auto ranking = rank(signatures_, sighting);
    const auto near = candidates(ranking);
    for (std::size_t i = 0; i < ranking.size(); ++i) {
        auto row = words(signatures_[ranking[i].signature].fault);
        row["distance"] = ranking[i].distance;
        row["near"] = i < near.size();
        told["ranking"].push_back(row);
    }
    return told;
}

} // namespace needleturn
