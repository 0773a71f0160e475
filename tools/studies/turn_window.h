/// Turn window: for each needle, the range of turns in which every acceptance limit is kept, over the scenario's own
/// events and over every corner of stated ranges of what cannot be chosen (air, supply pressure, flow).
///
/// A coarse grid over all needles together, in about equal ratios of turns, finds a setting with a large margin and
/// good neighbours. From there each needle is followed both ways to the first setting that breaks a limit, and the
/// boundary between the last good and the first bad one is halved until it is known to `resolution`. Runs are spent near
/// the boundaries; but what lies between two good settings of the coarse grid is taken to be good. Where the setting of the grid
/// lies nearer than `hard_to_set` to an edge of a needle's window, the eighth of that needle with the most room takes its place,
/// if it leaves as much of the limits as a setting of the grid must. The setting to recommend is
/// run once more as the command `run` does it: where the number of cells leaves a limit open (second_grid.h) it is not good.
#pragma once

#include "scenarios/read_scenario.h"
#include "tools/studies/finding.h"

#include <cstddef>
#include <filesystem>
#include <functional>
#include <optional>
#include <string>
#include <vector>

namespace needleturn {

/// A key with a range, SI turns or as an override spells it.
struct Ranged {
    std::string key, low, high;
};

struct WindowQuestion {
    std::filesystem::path scenario;
    std::vector<scenarios::Override> set; ///< changes to it
    std::vector<std::string> needles;     ///< keys whose turns are asked for
    double fewest = 0.125, most = 6;      ///< turns, 0 < fewest < most
    std::vector<Ranged> over;             ///< what cannot be chosen; at most 4
    unsigned threads = 1;
    std::function<void()> one_more = {}; ///< called after each run, from several threads, one at a time
};

/// A needle with less than this between too few and too many is hard to set by hand and to keep; turns. Common practice, no source.
inline constexpr double hard_to_set = 0.25;

/// How near the worst event under the worst condition comes to a limit.
struct Margin {
    scenarios::PlacedLimit limit = {};
    double fraction = 1; ///< of the limit that is left; negative: broken
    double value =
        0; ///< SI, of what is limited; infinite: not reached; NaN: no event has anything that it limits
    double bound = 0; ///< SI
    std::string condition =
        {}; ///< changes to the scenario that brought it, "main.air_in_cover=40 mL"; empty: none
};

/// What a setting does not keep first.
struct Breach {
    Finding finding;
    std::string event;     ///< "demand 9.00 L/s -> 2.00 L/s", in the scenario's units
    std::string condition; ///< as in Margin
    std::string failure;   ///< of a run that ended early, when and why; then there is no finding
};

/// One needle's window, the others at the recommended setting.
struct NeedleWindow {
    std::string needle;
    double low = 0, high = 0;           ///< turns
    std::optional<Breach> below, above; ///< what breaks first on either side; nothing: the range ends there
};

/// One setting that was run.
struct Tried {
    std::vector<double> turns;    ///< of each needle
    double margin = 0;            ///< least fraction of a limit that is left; negative: broken
    std::optional<Breach> breach; ///< nothing: every limit is kept
};

/// A setting of the coarse grid that keeps every limit.
struct Candidate {
    std::vector<double> turns;        ///< of each needle
    double left = 0;                  ///< least fraction of a limit that is left
    std::size_t kept = 0, beside = 0; ///< of the settings one coarse step of one needle away: good ones, all
};

/// Why the recommended setting is that one: what else the coarse grid has.
struct Choice {
    std::size_t grid = 0, good = 0; ///< settings of the grid, and those of them that keep every limit
    Candidate recommended;
    std::optional<Candidate> more_left; ///< leaves most of all; nothing: the recommended one does
    std::optional<Candidate>
        moved_from; ///< the setting of the grid, where another one with more room took its place
    std::optional<Candidate> more_room; ///< has more good settings beside it than the recommended one
};

struct TurnWindow {
    bool found = false;
    std::vector<double> recommended;   ///< turns of each needle; the best there is if none is good
    std::vector<Margin> margins;       ///< at the recommended setting
    std::optional<Choice> choice;      ///< nothing: no setting is good
    std::optional<Breach> breach;      ///< of the best there is, where none is good
    std::vector<NeedleWindow> needles; ///< none where none is good
    std::vector<Tried> tried;          ///< every setting that was run, by turns
    std::size_t runs = 0;              ///< simulations spent
    std::size_t grid_runs = 0;         ///< what a plain grid of the same resolution would take
};

/// Turns are known to this ratio: a twentieth is what a hand can set.
inline constexpr double window_resolution = 1.05;

/// Coarse steps from the fewest to the most turns, in equal ratios, where that is near in eighths as hands count them.
std::vector<double> coarse_turns(double fewest, double most);

/// Every combination of `turns` for `needles` needles, the last changing fastest.
std::vector<std::vector<double>> combinations(const std::vector<double>& turns, std::size_t needles);

/// Throws scenarios::ScenarioError for keys or values that the scenario does not take, and std::runtime_error when the
/// scenario states no limits.
TurnWindow find_turn_window(const WindowQuestion& question);

} // namespace needleturn
