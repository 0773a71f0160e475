#include "tools/studies/valve_relations.h"

#include "models/laws/capacity.h"
#include "models/laws/gravity.h"
#include "models/laws/restriction.h"
#include "scenarios/hardware_file.h"
#include "tools/studies/measured_hardware.h"
#include "tools/studies/stroke_time.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <optional>
#include <utility>

namespace needleturn {

namespace {

using scenarios::Dimension;
using scenarios::FlowingReading;
using scenarios::MeasuredValve;
using scenarios::RangedValue;
using scenarios::TimedStroke;
using enum Direction;

double root(double drop) { return models::drop_root(drop, models::small_passage_knee); }

/// Of what is not known: any valve of this size or of another, in SI.
constexpr Bounds any_displacement{1e-9, 1e3}, any_capacity{1e-20, 1}, any_stiffness{1, 1e15};

/// m3 s-1 Pa-1/2 of a bore of `area` that loses its velocity head: sqrt(2 / rho) A.
double ideal_capacity(double area) { return area * std::sqrt(2 / models::reference_density); }
double bore_area(double bore) { return std::numbers::pi / 4 * bore * bore; }

/// Writes the relations down one after another.
class Writer {
  public:
    Writer(const MeasuredValve& measured, Facts& facts) : measured_{measured}, facts_{facts} {}

    std::vector<Relation> relations;

    void sizes();
    void restriction();
    void pilot_spring();
    void stroke(const TimedStroke& stroke, const std::string& name, bool closes);
    void flowing(const FlowingReading& reading, const std::string& name);
    void fall_off(const FlowingReading& reading, const std::string& name, const std::string& cover,
                  const std::string& inlet, const std::string& outlet);
    void needles_against_each_other();

  private:
    std::string state(const std::string& name, const RangedValue& known, Dimension dimension) {
        facts_[name] = {known.low, known.high, dimension, false, {}};
        return name;
    }
    /// One that is given, or one that may be anything between `otherwise`.
    std::string perhaps(const std::string& name, const std::optional<RangedValue>& known, Bounds otherwise,
                        Dimension dimension) {
        state(name, known.value_or(RangedValue{0, otherwise.low, otherwise.high}), dimension);
        facts_[name].generic = !known;
        return name;
    }
    std::string bound(const std::string& name, Bounds bounds) {
        facts_[name] = {bounds.low, bounds.high, Dimension::ratio, false, {}};
        return name;
    }
    std::string needle(const std::string& name, const std::optional<RangedValue>& turns);

    const MeasuredValve& measured_;
    Facts& facts_;
    /// Needles at the turns of a stroke: fact and fact of the turns.
    std::vector<std::pair<std::string, std::string>> needles_;
};

void Writer::sizes() {
    perhaps("displacement", measured_.cover_displacement, any_displacement, Dimension::volume);
    relations.push_back({measured_.cover_displacement ? "cover_displacement" : "water of a stroke",
                         "7a",
                         "displacement",
                         {{"main_valve.diaphragm_area", rising}, {"main_valve.full_lift", rising}},
                         [](auto v) { return v[0] * v[1]; },
                         {"main_valve.diaphragm_area", "main_valve.full_lift"}});
    const auto share = [](auto v) { return v[0] * v[1]; };
    const auto opening = [](auto v) { return ideal_capacity(v[0]) * v[1]; };
    relations.push_back(
        {"capacity through the seat",
         "loss coefficient 1 or more",
         "main_valve.capacity",
         {{"main_valve.seat_area", rising}, {bound("opening of the seat", opening_of_seat), rising}},
         opening});
    relations.push_back(
        {"seat under the diaphragm",
         "",
         "main_valve.seat_area",
         {{"main_valve.diaphragm_area", rising}, {bound("seat over diaphragm", {0.01, 0.99}), rising}},
         share});
    relations.push_back({"water of a stroke in the cover",
                         "",
                         "displacement",
                         {{"cover.volume", rising}, {bound("stroke over cover", {0.01, 0.99}), rising}},
                         share});
    const double bore = scenarios::nominal_size(measured_.generic.name);
    if (bore > 0) {
        state("nominal size", {bore, bore, bore}, Dimension::length);
        relations.push_back(
            {"capacity for the size",
             "loss coefficient 1.5 to 60",
             "main_valve.capacity",
             {{"nominal size", rising}, {bound("opening of the size", opening_of_size), rising}},
             [](auto v) { return ideal_capacity(bore_area(v[0])) * v[1]; }});
    }
}

void Writer::restriction() {
    if (!measured_.restriction_bore)
        return;
    state("restriction bore", *measured_.restriction_bore, Dimension::length);
    relations.push_back(
        {"restriction_bore",
         "orifice law",
         "fixed_restriction.capacity",
         {{"restriction bore", rising}, {bound("discharge coefficient", discharge_coefficient), rising}},
         [](auto v) { return ideal_capacity(bore_area(v[0])) * v[1]; },
         {"fixed_restriction.capacity"}});
}

/// Its stiffness, Pa of the outlet per metre of pilot lift, follows from spring and diaphragm, and from the screw.
void Writer::pilot_spring() {
    perhaps("pilot stiffness", {}, any_stiffness, Dimension::ratio);
    const bool screwed = !facts_.at("pilot.pressure_per_turn").generic;
    if (screwed) {
        state("screw pitch",
              measured_.screw_pitch.value_or(RangedValue{0, usual_pitch.low, usual_pitch.high}),
              Dimension::length);
        relations.push_back({"pressure_per_turn",
                             measured_.screw_pitch ? "14" : "14, pitch of a coarse thread",
                             "pilot.pressure_per_turn",
                             {{"pilot stiffness", rising}, {"screw pitch", rising}},
                             [](auto v) { return v[0] * v[1]; }});
    }
    relations.push_back({screwed ? "pressure_per_turn" : "pilot spring",
                         "14",
                         "pilot stiffness",
                         {{"pilot.spring_rate", rising}, {"pilot.diaphragm_area", falling}},
                         [](auto v) { return v[0] / v[1]; },
                         {"pilot.spring_rate"}});
}

/// The fact of a needle's capacity, (11), at turns that are stated, or at any.
std::string Writer::needle(const std::string& name, const std::optional<RangedValue>& turns) {
    const auto& full = facts_.at("speed_control.full_turns");
    auto capacity = name + ": needle";
    const auto turned = name + ": turns";
    const auto& whole = facts_.at("speed_control.capacity");
    facts_[capacity] = {any_capacity.low, any_capacity.high, Dimension::capacity, whole.generic, {}};
    state(turned, turns.value_or(RangedValue{0, 0, full.high}), Dimension::turns);
    if (turns)
        needles_.emplace_back(capacity, turned);
    relations.push_back({name,
                         "11",
                         capacity,
                         {{"speed_control.capacity", rising},
                          {turned, rising},
                          {"speed_control.full_turns", falling},
                          {"speed_control.exponent", falling}},
                         [](auto v) { return v[0] * std::pow(std::min(v[1] / v[2], 1.0), v[3]); },
                         {"speed_control.capacity"}});
    return capacity;
}

void Writer::stroke(const TimedStroke& stroke, const std::string& name, bool closes) {
    const auto acting = needle(name, stroke.turns);
    const auto other = needle(name + ", other needle", stroke.other);
    const auto time = state(name + ": time", stroke.time, Dimension::time);
    const auto inlet = state(name + ": inlet_pressure", stroke.inlet_pressure, Dimension::pressure);
    const auto outlet = state(name + ": outlet_pressure", stroke.outlet_pressure, Dimension::pressure);
    const auto lifted = bound(name + ": lift", {0, 1}); // where the mean flow is
    // A stronger spring or a heavier stem makes a stroke down shorter and a stroke up longer; the rest likewise.
    const auto down = closes ? falling : rising;
    const auto against = closes ? rising : falling;
    std::vector<Relation::Input> inputs{{"displacement", rising},
                                        {"main_valve.seat_area", against},
                                        {"main_valve.diaphragm_area", either},
                                        {"main_valve.spring_preload", down},
                                        {"main_valve.spring_rate", down},
                                        {"main_valve.full_lift", down},
                                        {lifted, down},
                                        {"main_valve.moving_mass", down},
                                        {"main_valve.stem_damping", rising},
                                        {"main_valve.stem_friction", rising},
                                        {"fixed_restriction.capacity", down},
                                        {acting, falling},
                                        {other, falling},
                                        {"speed_control.check_capacity", falling},
                                        {inlet, closes ? falling : either},
                                        {outlet, closes ? rising : either},
                                        {"pilot.capacity", closes ? either : falling}};
    const auto value = [part = stroke.part, closes](std::span<const double> v) {
        StrokeValve valve;
        valve.displacement = v[0];
        valve.seat_area = v[1];
        valve.diaphragm_area = v[2];
        valve.closing_force = v[3] + v[4] * v[5] * v[6] + v[7] * models::gravity;
        valve.stem_damping = v[8];
        valve.stem_friction = v[9];
        valve.restriction = v[10];
        valve.needle = v[11];
        valve.other = v[12];
        valve.check = v[13];
        valve.pilot = v[16];
        return closes ? closing_time(valve, v[14], v[15], part) : opening_time(valve, v[14], v[15], part);
    };
    std::vector<std::string> gives_way{acting, "fixed_restriction.capacity"};
    if (!closes)
        gives_way.emplace_back("pilot.capacity");
    else
        inputs.back() = {"pilot.capacity", falling}; // shut: of no matter
    relations.push_back({name, closes ? "1, 7, 7a, 12" : "1, 7, 7a, 12, 15", time, std::move(inputs), value,
                         std::move(gives_way)});
}

/// Needles at two stated numbers of turns: what the full one is does not matter to their ratio.
void Writer::needles_against_each_other() {
    const auto tie = [&](const auto& fewer, const auto& more) {
        const auto stroke = [](const std::string& fact) { return fact.substr(0, fact.find(':')); };
        relations.push_back({fmt::format("{} against {}", stroke(fewer.first), stroke(more.first)),
                             "11",
                             fewer.first,
                             {{more.first, rising},
                              {fewer.second, rising},
                              {more.second, falling},
                              {"speed_control.exponent", falling}},
                             [](auto v) { return v[0] * std::pow(v[1] / v[2], v[3]); },
                             {"speed_control.exponent"}});
    };
    for (const auto& one : needles_)
        for (const auto& other : needles_)
            if (facts_.at(one.second).high < facts_.at(other.second).low)
                tie(one, other);
}

void Writer::flowing(const FlowingReading& reading, const std::string& name) {
    const auto inlet = state(name + ": inlet_pressure", reading.inlet_pressure, Dimension::pressure);
    const auto outlet = state(name + ": flowing_pressure", reading.flowing_pressure, Dimension::pressure);
    const auto flow = state(name + ": flow", reading.flow, Dimension::flow);
    const auto open = bound(name + ": main valve open", {1e-6, 1});
    relations.push_back(
        {name,
         "3",
         flow,
         {{"main_valve.capacity", rising}, {open, rising}, {inlet, rising}, {outlet, falling}},
         [](auto v) { return v[0] * v[1] * std::sqrt(std::max(v[2] - v[3], 0.0)); }});
    const auto cover =
        perhaps(name + ": cover_pressure", reading.cover_pressure,
                {reading.flowing_pressure.low, reading.inlet_pressure.high}, Dimension::pressure);
    const auto lifted = bound(name + ": lift", {0, 1});
    relations.push_back({name,
                         "7",
                         cover,
                         {{"main_valve.seat_area", rising},
                          {"main_valve.diaphragm_area", either},
                          {"main_valve.spring_preload", falling},
                          {"main_valve.spring_rate", falling},
                          {"main_valve.full_lift", falling},
                          {lifted, falling},
                          {"main_valve.moving_mass", falling},
                          {inlet, rising},
                          {outlet, rising}},
                         [](auto v) {
                             const double force = v[2] + v[3] * v[4] * v[5] + v[6] * models::gravity;
                             return resting_cover_pressure(v[0], v[1], force, v[7], v[8]);
                         },
                         {"main_valve.diaphragm_area"}});
    fall_off(reading, name, cover, inlet, outlet);
}

/// The pilot's lift is the fall-off over its stiffness. It passes all that the restriction brings, for the cover rests.
void Writer::fall_off(const FlowingReading& reading, const std::string& name, const std::string& cover,
                      const std::string& inlet, const std::string& outlet) {
    const auto& still = reading.static_pressure;
    const auto& runs = reading.flowing_pressure;
    const auto fallen =
        state(name + ": fall-off", {still.value - runs.value, still.low - runs.high, still.high - runs.low},
              Dimension::pressure);
    relations.push_back({name,
                         "1, 14, 15",
                         fallen,
                         {{"pilot stiffness", rising},
                          {"fixed_restriction.capacity", rising},
                          {"pilot.full_lift", rising},
                          {"pilot.capacity", falling},
                          {cover, falling},
                          {inlet, rising},
                          {outlet, rising}},
                         [](auto v) {
                             constexpr double rim = 1e-6; // m: the pilot's seat opens over so much (pilot.h)
                             const double brought = v[1] * root(std::max(v[5] - v[4], 0.0));
                             const double per_lift = v[3] / v[2] * root(std::max(v[4] - v[6], 1.0));
                             return v[0] * (brought / per_lift + rim);
                         },
                         {"pilot.capacity", "fixed_restriction.capacity"}});
    const auto pilot_open = bound(name + ": pilot open", {1e-6, 1});
    relations.push_back({name,
                         "14",
                         fallen,
                         {{"pilot stiffness", rising}, {"pilot.full_lift", rising}, {pilot_open, rising}},
                         [](auto v) { return v[0] * v[1] * v[2]; }});
}

} // namespace

std::vector<Relation> valve_relations(const MeasuredValve& measured, Facts& facts) {
    Writer writer(measured, facts);
    writer.sizes();
    writer.restriction();
    writer.pilot_spring();
    const auto each = [](const auto& list, const char* name, const auto& write) {
        for (std::size_t i = 0; i < list.size(); ++i)
            write(list[i], list.size() == 1 ? std::string(name) : fmt::format("{} {}", name, i + 1));
    };
    each(measured.closing, "closing", [&](auto& stroke, auto name) { writer.stroke(stroke, name, true); });
    each(measured.opening, "opening", [&](auto& stroke, auto name) { writer.stroke(stroke, name, false); });
    writer.needles_against_each_other();
    each(measured.flowing, "flowing", [&](auto& reading, auto name) { writer.flowing(reading, name); });
    return std::move(writer.relations);
}

} // namespace needleturn
