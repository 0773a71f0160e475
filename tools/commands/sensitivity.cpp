#include "tools/commands/sensitivity.h"

#include "scenarios/read_scenario.h"
#include "scenarios/units.h"
#include "sim/cases_file.h"
#include "sim/equilibrium.h"
#include "sim/guarded_read.h"
#include "tools/commands/exit_code.h"
#include "tools/commands/print_text.h"
#include "tools/commands/verify.h"
#include "tools/studies/case_metrics.h"
#include "tools/studies/hardware_folders.h"
#include "tools/studies/steady_slope.h"
#include "tools/studies/sweep_case.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <limits>
#include <memory>
#include <numeric>
#include <stdexcept>
#include <string>
#include <vector>

namespace needleturn {

namespace {

struct SensitivityOptions {
    std::string study, file;
};

/// Says so where the sample is too small for the spread of its results.
void tell_spread(const std::vector<sim::SobolIndex>& indices, std::size_t rows) {
    // Of the variance: what ranks keys whose shares differ by a fifth (common practice, no source).
    constexpr double wanted = 0.1;
    double error = 0;
    for (const auto& index : indices)
        error = std::max({error, index.total_error, index.alone_error});
    if (error <= wanted)
        return;
    // A standard error falls with the root of the rows; plans are laid out for powers of two.
    const double enough = static_cast<double>(rows) * (error / wanted) * (error / wanted);
    print_text(
        "  WARNING: {} rows are too few for the spread of this result: shares are known only to +- {:.2f};\n"
        "  some {:.0f} rows would make that +- {:.2f}\n",
        rows, error, std::exp2(std::ceil(std::log2(enough))), wanted);
}

void print_ranking(const scenarios::Study& study, const CaseMetric& metric) {
    const auto shares = key_shares(metric.values, study.vary.size());
    print_text("\n{}{}", metric.name,
               !metric.per_event ? ""
               : metric.largest  ? " (largest over the events of a case)"
                                 : " (smallest over the events of a case)");
    if (shares.left_out > 0)
        print_text(", {} of {} rows left out: a case in them has no finite value", shares.left_out,
                   shares.left_out + shares.rows);
    print_text("\n");
    if (!shares.varies || shares.rows < 2) {
        print_text("{}\n", shares.rows < 2 ? "  too few rows are left to rank anything" : "  does not vary");
        return;
    }
    std::vector<std::size_t> order(study.vary.size());
    std::iota(order.begin(), order.end(), std::size_t{0});
    std::ranges::stable_sort(order, std::greater{}, [&](std::size_t i) { return shares.of_key[i].total; });
    tell_spread(shares.of_key, shares.rows);
    for (const auto i : order)
        print_text("  {:<48} total {:5.2f} +- {:4.2f}   alone {:5.2f} +- {:4.2f}\n", study.vary[i].key,
                   shares.of_key[i].total, shares.of_key[i].total_error, shares.of_key[i].alone,
                   shares.of_key[i].alone_error);
}

/// Of each key the local slope of the steady flowing pressure, times its range.
void print_steady_slopes(const Sweep& sweep) {
    const auto& study = sweep.study;
    constexpr double middle = 0.5, step = 1e-3; // of the range
    const auto scenario_at = [&](std::size_t key, double fraction) {
        std::vector<scenarios::Override> overrides;
        for (std::size_t i = 0; i < study.vary.size(); ++i)
            overrides.push_back(
                study.vary[i].set_to(study.vary[i].at_fraction(i == key ? fraction : middle)));
        return scenarios::read_scenario(study.scenario, overrides, hardware_folders());
    };
    struct Slopes {
        std::size_t key;
        double at_start, at_end; ///< Pa
    };
    std::vector<Slopes> slopes;
    for (std::size_t i = 0; i < study.vary.size(); ++i) {
        if (!study.vary[i].list.empty())
            continue; // between listed values there is nothing
        const auto below = scenario_at(i, middle - step), here = scenario_at(i, middle),
                   above = scenario_at(i, middle + step);
        const auto slope = [&](double at) {
            try {
                return steady_slope(below, here, above, step, at);
            } catch (const sim::NoEquilibrium&) {
                return std::numeric_limits<double>::quiet_NaN();
            }
        };
        slopes.push_back({i, slope(0), slope(here.run.duration)});
    }
    std::ranges::stable_sort(slopes, std::greater{}, [](const Slopes& key) {
        return std::fmax(std::abs(key.at_start), std::abs(key.at_end));
    });
    print_text(
        "\nsteady flowing pressure: local slope at the middle of all ranges, times the range of the key; "
        "fall-off goes\nthe other way\n");
    const auto show = [&](double slope) {
        return std::isnan(slope) ? std::string("not steady")
                                 : format_quantity(slope, scenarios::Dimension::pressure, sweep.base.units);
    };
    for (const auto& [key, at_start, at_end] : slopes)
        print_text("  {:<48} at the start {:>12}   at the end {:>12}\n", study.vary[key].key, show(at_start),
                   show(at_end));
}

int run_sensitivity(const SensitivityOptions& options) {
    const auto sweep = read_sweep(options.study);
    if (sweep.study.plan != scenarios::Study::Plan::sensitivity)
        throw std::runtime_error(fmt::format("{}: plan = \"{}\": Sobol indices need plan = \"sensitivity\"",
                                             options.study, name(sweep.study.plan)));
    const std::filesystem::path file = options.file.empty()
                                           ? std::filesystem::path(options.study).stem().concat(".h5")
                                           : std::filesystem::path(options.file);
    if (std::filesystem::exists(file))
        sim::require_whole(file);
    if (sim::cases_attribute(file, "identity") != sweep.identity)
        throw std::runtime_error(fmt::format(
            "{}: is not the finished sweep of {}; run needleturn sweep first", file.string(), options.study));
    const auto cases = sim::read_cases(file); // before a line is printed
    tell_without_digest(file);
    print_text("{} rows of {}: the share of each result's variance that each key is answerable for, with "
               "what it does\n"
               "together with others (total) and by itself (alone), +- standard error\n",
               sweep.study.rows, file.string());
    for (const auto& metric : case_metrics(cases, sweep.study.metrics))
        print_ranking(sweep.study, metric);
    print_steady_slopes(sweep);
    return exit_passed;
}

} // namespace

void add_sensitivity(Command program, std::function<int()>& action) {
    const auto options = std::make_shared<SensitivityOptions>();
    auto command = program.add_subcommand(
        "sensitivity",
        "rank the keys of a finished sweep with plan = \"sensitivity\" by what they do to the verdict");
    command.add_option("study", options->study, "study file (.toml)").required();
    command.add_option("-o,--output", options->file,
                       "the file its sweep has written (default: <study>.h5 here)");
    command.callback([options, &action] { action = [options] { return run_sensitivity(*options); }; });
}

} // namespace needleturn
