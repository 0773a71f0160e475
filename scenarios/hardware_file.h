/// Finds a valve in the hardware files.
#pragma once

#include <toml++/toml.h>

#include <filesystem>
#include <map>
#include <mutex>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace needleturn::scenarios {

/// A table of a hardware file, or why there is none.
struct HardwareChoice {
    bool found = false;
    std::string why_not; ///< for the author of the name: no such family, file or size, what there is
    std::string name; ///< of the valve: "pilot-operated/DN80"; of a file of one's own its stem and the size
    toml::table table;
    toml::table ranges; ///< [ranges] of the file, which holds for all of its sizes
    std::string size;   ///< "DN80"
    std::string file;   ///< where it stands
};

/// A table of a hardware file by this name is no size.
inline constexpr std::string_view ranges_table = "ranges";

/// The hardware files of some folders: family.toml of the first folder that has it. Which there are is seen at the beginning; a
/// file is read when it is first asked for, and kept: who asks again gets the same, whatever happens to the file meanwhile. One
/// object may serve several threads.
class HardwareFiles {
  public:
    /// A file that is named by its path, "my-valve.toml", is looked for from each folder of `paths_from` in turn; none: no file may
    /// be named so.
    explicit HardwareFiles(std::span<const std::filesystem::path> folders = {},
                           std::vector<std::filesystem::path> paths_from = {});

    /// "family/size" -> table [size] of the family; "path/my-valve.toml" -> the only table of that file, "my-valve.toml/DN65" -> one
    /// of several. Throws ScenarioError when the file itself is wrong.
    HardwareChoice find(const std::string& name) const;

    /// The sizes of a family by nominal size: "direct-acting/DN20", "direct-acting/DN25", ...; none when no folder has it. Throws
    /// ScenarioError when the file itself is wrong.
    std::vector<std::string> sizes_of(const std::string& family) const;

    /// The text of another file that is named by its path, looked for and kept as a valve of one's own is; `found` becomes its full
    /// path. Nothing where there is none, and `found` is why. Throws ScenarioError for a file that is no text.
    std::optional<std::string> text_named(const std::string& path, std::string& found) const;

  private:
    HardwareChoice find_own(const std::string& path, const std::string& size) const;
    toml::table document(const std::filesystem::path& file) const;
    /// As it was when it was first asked for.
    const std::string& text_of(const std::filesystem::path& file) const;
    /// The file of that path; none: why.
    std::optional<std::filesystem::path> placed(const std::string& path, std::string& why_not) const;

    std::vector<std::filesystem::path> folders_, paths_from_;
    std::map<std::string, std::filesystem::path> families_;
    mutable std::mutex mutex_;
    /// Of files that were asked for. Parsed for each who asks: a copy of a table forgets on which lines it stood.
    mutable std::map<std::filesystem::path, std::string> texts_;
};

/// HardwareFiles::sizes_of of `folders` as they are now.
std::vector<std::string> sizes_of(const std::string& family, std::span<const std::filesystem::path> folders);

/// Nominal size, m, of hardware called "family/DN<number>", and 0 for names of other forms.
double nominal_size(const std::string& name);

} // namespace needleturn::scenarios
