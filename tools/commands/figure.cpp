#include "tools/commands/figure.h"

#include "scenarios/units.h"
#include "sim/results_file.h"
#include "sim/whole_file.h"
#include "tools/commands/exit_code.h"
#include "tools/commands/results_place.h"
#include "tools/commands/verify.h"
#include "tools/studies/decimate.h"

#include <fmt/format.h>
#include <spawn.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <map>
#include <memory>
#include <optional>
#include <stdexcept>
#include <string>
#include <system_error>
#include <utility>
#include <vector>

namespace needleturn {

namespace {

namespace fs = std::filesystem;
using scenarios::UnitSystem;

struct FigureOptions {
    std::string results;
    std::vector<std::string> signals;
    std::string output;
    bool force = false;
    std::string units = "SI";
    std::optional<double> from, to;
};

/// What gnuplot calls the kind of file that the name's ending asks for. Sizes suit a column of text twice over.
std::string terminal_for(const std::string& output) {
    const std::map<std::string, std::string> terminals{
        {".svg", "svg size 900,600 font 'Helvetica,15' background 'white' noenhanced"},
        {".png", "pngcairo size 1800,1200 font 'Helvetica,26' linewidth 2 noenhanced"},
        {".pdf", "pdfcairo size 18cm,12cm font 'Helvetica,10' noenhanced"}};
    const auto found = terminals.find(fs::path(output).extension().string());
    if (found == terminals.end())
        throw std::runtime_error(output + ": figures are .svg, .png or .pdf");
    return found->second;
}

/// Text as gnuplot reads it between single quotes: on one line, for at its end a new command begins.
std::string quoted(const std::string& text) {
    std::string out = "'";
    for (const char character : text)
        out += character == '\''                              ? "''"
               : static_cast<unsigned char>(character) < 0x20 ? " "
                                                              : std::string(1, character);
    return out + "'";
}

/// Signals of one unit share a panel.
struct Panel {
    std::string unit; ///< as recorded
    std::vector<std::size_t> signals;
};

std::vector<Panel> panels_of(const sim::Recording& recording, const std::vector<std::string>& names,
                             const std::string& file) {
    std::vector<Panel> panels;
    for (const auto& name : names) {
        const auto& quantities = recording.quantities;
        const auto found = std::find_if(quantities.begin(), quantities.end(),
                                        [&](const Quantity& quantity) { return quantity.name == name; });
        if (found == quantities.end()) {
            std::vector<std::string> known;
            for (const auto& quantity : quantities)
                known.push_back(quantity.name);
            throw std::runtime_error(
                fmt::format("{}: no signal {}; there are {}", file, name, fmt::join(known, ", ")));
        }
        auto panel = std::find_if(panels.begin(), panels.end(),
                                  [&](const Panel& candidate) { return candidate.unit == found->unit; });
        if (panel == panels.end())
            panel = panels.insert(panels.end(), {found->unit, {}});
        panel->signals.push_back(static_cast<std::size_t>(found - quantities.begin()));
    }
    return panels;
}

/// Commands and data for gnuplot, drawing into `image`.
std::string gnuplot_script(const sim::RunRecord& record, const FigureOptions& options,
                           const std::string& image) {
    const auto& recording = record.recording;
    const auto panels = panels_of(recording, options.signals, options.results);
    const auto system = options.units == "US" ? UnitSystem::us : UnitSystem::si;
    const double from = options.from.value_or(recording.time.front());
    const double to = options.to.value_or(recording.time.back());
    const auto sample = [&](double time) {
        return std::lower_bound(recording.time.begin(), recording.time.end(), time) - recording.time.begin();
    };
    const auto first = static_cast<std::size_t>(sample(from));
    const auto last = std::min(static_cast<std::size_t>(sample(to)) + 1, recording.time.size());
    if (last < first + 2)
        throw std::runtime_error(
            fmt::format("{}: no samples between {} s and {} s", options.results, from, to));

    constexpr std::size_t most_points = 4000; // more than a printed column resolves
    const auto per_pair = samples_per_pair(last - first, most_points);
    const double interval = recording.time[1] - recording.time[0];
    const double spacing = per_pair == 1 ? interval : interval * static_cast<double>(per_pair) / 2;

    std::string script;
    auto out = std::back_inserter(script);
    for (std::size_t p = 0; p < panels.size(); ++p)
        for (const std::size_t i : panels[p].signals) {
            const auto dimension = scenarios::dimension_of_udunits(panels[p].unit);
            fmt::format_to(out, "$signal_{} << END\n", i);
            const auto points =
                decimate(std::span(recording.values[i]).subspan(first, last - first), per_pair);
            for (std::size_t k = 0; k < points.size(); ++k)
                fmt::format_to(
                    out, "{:.9g} {:.9g}\n", recording.time[first] + spacing * static_cast<double>(k),
                    dimension ? scenarios::in_display_unit(points[k], *dimension, system) : points[k]);
            fmt::format_to(out, "END\n");
        }
    fmt::format_to(out,
                   "set terminal {}\nset output {}\nset grid lc rgb '#d8dee1' lt 1\n"
                   "set border 3\nset tics nomirror out\nset key outside top right horizontal\n"
                   "set xrange [{:.9g}:{:.9g}]\nset lmargin 10\nset multiplot layout {},1 title {}\n",
                   terminal_for(options.output), quoted(image), from, to, panels.size(),
                   quoted(record.title));
    // Told apart in grey as well: by dash.
    constexpr std::array colours{"#0b4f86", "#b4480a", "#3d6b1c", "#79307f", "#8a6400", "#555f66"};
    for (std::size_t p = 0; p < panels.size(); ++p) {
        const auto dimension = scenarios::dimension_of_udunits(panels[p].unit);
        const auto unit =
            dimension ? std::string(scenarios::display_unit(*dimension, system)) : panels[p].unit;
        // gnuplot complains about an axis without length.
        const auto still = [&](std::size_t i) {
            const auto& values = recording.values[i];
            return std::all_of(values.begin(), values.end(),
                               [&](double value) { return value == values.front(); });
        };
        const auto& members = panels[p].signals;
        fmt::format_to(out, "set yrange [{}]\n",
                       std::all_of(members.begin(), members.end(), still) ? "0:*" : "*:*");
        fmt::format_to(out, "set ylabel {}\n{}\nplot ", quoted(unit == "1" ? "" : unit),
                       p + 1 == panels.size() ? "set xlabel 'time, s'" : "unset xlabel");
        for (std::size_t k = 0; k < panels[p].signals.size(); ++k)
            fmt::format_to(out, "{}$signal_{} using 1:2 with lines lw 1.6 dt {} lc rgb '{}' title {}",
                           k > 0 ? ", " : "", panels[p].signals[k], k % 5 + 1, colours[k % colours.size()],
                           quoted(recording.quantities[panels[p].signals[k]].name));
        fmt::format_to(out, "\n");
    }
    fmt::format_to(out, "unset multiplot\nset output\n");
    return script;
}

/// A folder that is gone afterwards.
class ScratchFolder {
  public:
    ScratchFolder() {
        std::string pattern = (fs::temp_directory_path() / "needleturn-XXXXXX").string();
        if (mkdtemp(pattern.data()) == nullptr)
            throw std::system_error(errno, std::generic_category(), "figure: no folder for temporary files");
        path_ = pattern;
    }
    ~ScratchFolder() {
        std::error_code ignored; // nothing to be done about a temporary that stays
        fs::remove_all(path_, ignored);
    }
    ScratchFolder(const ScratchFolder&) = delete;
    ScratchFolder& operator=(const ScratchFolder&) = delete;
    const fs::path& path() const { return path_; }

  private:
    fs::path path_;
};

void run_gnuplot(const fs::path& script) {
    std::string program = "gnuplot";
    std::string argument = script.string();
    std::array<char*, 3> arguments{program.data(), argument.data(), nullptr};
    pid_t child = 0;
    const int error = posix_spawnp(&child, program.c_str(), nullptr, nullptr, arguments.data(), environ);
    if (error == ENOENT)
        throw std::runtime_error(
            "figure: needs gnuplot, which is not there; install the package gnuplot-nox");
    if (error != 0)
        throw std::runtime_error("figure: gnuplot does not start: " + std::generic_category().message(error));
    int status = 0;
    while (waitpid(child, &status, 0) < 0)
        if (errno != EINTR)
            throw std::system_error(errno, std::generic_category(), "figure: lost sight of gnuplot");
    if (!WIFEXITED(status) || WEXITSTATUS(status) != 0)
        throw std::runtime_error("figure: gnuplot failed; its message is above");
}

int figure(const FigureOptions& options) {
    terminal_for(options.output); // a wrong ending is told before anything is read
    check_place({options.output, "figure", {options.results}, options.force});
    const auto record = sim::read_results(options.results);
    tell_without_digest(options.results);
    const ScratchFolder scratch;
    const auto image = scratch.path() / ("figure" + fs::path(options.output).extension().string());
    const auto script = scratch.path() / "figure.gp";
    std::ofstream(script) << gnuplot_script(record, options, image.string());
    run_gnuplot(script);
    std::ifstream in(image, std::ios::binary);
    const std::vector<char> bytes{std::istreambuf_iterator<char>(in), {}};
    if (bytes.empty())
        throw std::runtime_error("figure: gnuplot drew nothing");
    sim::write_whole_file(options.output, std::as_bytes(std::span(bytes)));
    return exit_passed;
}

} // namespace

void add_figure(Command program, std::function<int()>& action) {
    const auto options = std::make_shared<FigureOptions>();
    auto command =
        program.add_subcommand("figure", "signals of a run as .svg, .png or .pdf, for papers and slides");
    command.add_option("results", options->results, "results file (.h5) of needleturn run").required();
    command
        .add_option("--signals", options->signals,
                    "names, with commas between them: outlet.pressure,main.lift; one panel a unit")
        .required()
        .delimiter(',');
    add_force(command, options->force);
    command.add_option("-o,--output", options->output, "the picture (.svg, .png or .pdf)").required();
    command.add_option("--units", options->units, "SI or US").among({"SI", "US"});
    command.add_option("--from", options->from, "s, the first moment to show");
    command.add_option("--to", options->to, "s, the last");
    command.callback([options, &action] { action = [options] { return figure(*options); }; });
}

} // namespace needleturn
