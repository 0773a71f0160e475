#include "tests/bench/counted.h"
#include "tests/bench/station_sweep.h"
#include "tests/bench/sweep_sections.h"

#include <fmt/core.h>

#include <algorithm>
#include <array>

namespace needleturn::bench {

namespace {

/// Additions and multiplications a second that one core does in registers of W lanes, without contracting them.
template <std::size_t W> double peak() {
    constexpr int rounds = 20'000'000, chains = 12;
    std::array<sim::Pack<W>, chains> sums;
    double seconds = 0;
    for (int repeat = 0; repeat < 3; ++repeat) {
        const double start = processor_time();
        sim::CallsFor<W>::run([&] {
            std::array<sim::Pack<W>, chains> own = sums;
            for (int i = 0; i < rounds; ++i)
                for (auto& sum : own)
                    sum = sum * 0.999 + 0.5;
            sums = own;
        });
        const double took = processor_time() - start;
        seconds = repeat == 0 ? took : std::min(seconds, took);
    }
    double total = 0; // so that the sums are needed
    for (const auto& sum : sums)
        total += sum[0];
    return total > 0 ? 2.0 * rounds * chains * W / seconds : 0;
}

} // namespace

void peak_section(const Station& station) {
    const auto cases = cases_of(evenly(steady, 0.5, 6, 512));
    sim::Assembly<Station, Counted> assembly(station);
    sim::Rodas5PStep<sim::Assembly<Station, Counted>> step(assembly);
    for (std::size_t j = 0; j < cases[0].drives.size(); ++j) {
        const auto ramp = cases[0].drives[j].piece(0);
        assembly.ramps()[j] = {ramp.begin, ramp.value, ramp.slope};
    }
    for (std::size_t i = 0; i < assembly.size(); ++i)
        step.y[i] = cases[0].y[static_cast<Eigen::Index>(i)];
    fmt::print(
        "## Distance from the hardware\n\nA power counts as 60 operations, an exponential or logarithm as 30 "
        "(sim/pack.h).\n\n| | add | mul | div | root | power | exp, log | choices | operations |\n"
        "|---|---|---|---|---|---|---|---|---|\n");
    const auto flops = [](const Operations& o) {
        return static_cast<double>(o.add + o.mul + o.div + o.sqrt + 60 * o.pow + 30 * o.exp);
    };
    const auto print = [&](const char* name) {
        const auto& o = Counted::done;
        fmt::print("| {} | {} | {} | {} | {} | {} | {} | {} | {:.0f} |\n", name, o.add, o.mul, o.div, o.sqrt,
                   o.pow, o.exp, o.choice, flops(o));
    };
    Counted::done = {};
    assembly.rates(0.0, step.y.data(), step.rate.data());
    print("right-hand side");
    Counted::done = {};
    step.linearise(assembly, 0.0);
    print("with Jacobian");
    step.attempt(assembly, 0.0, 1e-4);
    print("attempted step, all of it");
    const double per_step = flops(Counted::done);
    const auto report = [&](std::size_t width, const Cost& cost, double peak_rate) {
        const double rate = per_step * static_cast<double>(cost.attempts) / cost.seconds;
        fmt::print("\n{} lanes: {:.2f} Gflop/s of {:.1f} that additions and multiplications alone reach "
                   "here: {:.0f} %\n",
                   width, 1e-9 * rate, 1e-9 * peak_rate, 100 * rate / peak_rate);
    };
    if (sim::lanes_here() >= 8)
        report(8, lanes<8>(station, cases, 1e-4), peak<8>());
    if (sim::lanes_here() >= 4)
        report(4, lanes<4>(station, cases, 1e-4), peak<4>());
    report(2, lanes<2>(station, cases, 1e-4), peak<2>());
    fmt::print("\n");
}

} // namespace needleturn::bench
