/// Scenario files in and out: strict in, complete out.
#pragma once

#include "scenarios/scenario.h"

#include <filesystem>
#include <memory>
#include <span>
#include <stdexcept>
#include <string>
#include <string_view>
#include <vector>

namespace needleturn::scenarios {

/// Something in a file or an override is not as it must be. what() is one line: where, which key, its value,
/// what is allowed: `night.toml:12: stage.opening_control = "3": missing unit; write turns, e.g. "3 turns"`.
class ScenarioError : public std::runtime_error {
  public:
    using std::runtime_error::runtime_error;
};

/// One key replaced after the file is read: "main.opening_control=1.5 turns". The key begins with a section
/// ("run.duration"), a top-level key ("units"), or the name of a stage, a branch or a consumer on the inlet side; a member of a
/// list is counted from 1 ("demand.steps.2.to"). Behind the name of a branch stands a key of the branch ("laundry.pipe.rise") or of
/// its demand ("laundry.start"). The value is spelt as in the file; its quotes may be left out.
///
/// "as=found" and "as=left" are short for the settings of a record (as_recorded in site_record.h), "as=stated" for none. They go ahead
/// of all others, wherever they stand; of several the last holds.
///
/// "running=laundry,rooms" leaves of the outlets behind the station those named; the others ("demand" is the one at the far end)
/// are shut for good. It comes after all others.
struct Override {
    std::string text;    ///< key=value; error texts quote it as given
    std::string place{}; ///< where it is said, "needles.toml:5"; empty: by --set
};

class HardwareFiles;

/// A scenario file, read once, with the hardware that it may name: whoever makes a scenario of it again and again, each time with
/// other overrides, makes it of the same texts, whatever happens to the files meanwhile. One object may serve several threads.
class ScenarioFile {
  public:
    /// Hardware files are looked for in the folder `hardware` beside the scenario, then in `hardware_folders`. Throws
    /// ScenarioError for a file that is missing, unreadable, empty or no text. `always` goes ahead of the overrides of every reading.
    explicit ScenarioFile(const std::filesystem::path& path,
                          std::span<const std::filesystem::path> hardware_folders = {},
                          std::vector<Override> always = {});

    /// A text that stands in no file: `name` stands for it in error texts, and hardware comes from `hardware_folders` alone.
    static ScenarioFile of_text(std::string text, std::string name,
                                std::span<const std::filesystem::path> hardware_folders = {});

    /// The same file with more overrides that always hold.
    ScenarioFile with(const std::vector<Override>& more) const;

    /// Reads, checks and completes the scenario. Throws ScenarioError.
    Scenario read(std::span<const Override> overrides = {}) const;

  private:
    ScenarioFile() = default;

    std::string name_, text_;
    std::shared_ptr<const HardwareFiles> hardware_;
    std::vector<Override> always_;
};

/// Reads, checks and completes a scenario. Hardware files are looked for in the folder `hardware` beside the
/// scenario, then in `hardware_folders`. Throws ScenarioError, also for a file that is missing, unreadable,
/// empty or no text.
Scenario read_scenario(const std::filesystem::path& path, std::span<const Override> overrides = {},
                       std::span<const std::filesystem::path> hardware_folders = {});

/// The same from text; `name` stands in error texts for the file. Hardware only from `hardware_folders`.
Scenario parse_scenario(std::string_view text, const std::string& name,
                        std::span<const Override> overrides = {},
                        std::span<const std::filesystem::path> hardware_folders = {});

/// The scenario as TOML with every default, override and hardware value written out in SI: reading it needs
/// no other file and gives the same Scenario bit for bit.
std::string resolved(const Scenario& scenario);

} // namespace needleturn::scenarios
