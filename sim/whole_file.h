/// Puts a file in place as a whole or not at all.
#pragma once

#include <cstddef>
#include <filesystem>
#include <functional>
#include <span>

namespace needleturn::sim {

/// Gives `path` the content, replacing the regular file that may be there (a symbolic link is followed).
///
/// The bytes go to a temporary in the same folder, ".<name>.part-<pid>-<number>", are forced to the disk, the
/// temporary is renamed over the final name, and that is forced to the disk, too. Whoever opens `path` sees the
/// old file or the new one, never a part.
///
/// On any error the temporary is removed, the old file stays as it was, and std::runtime_error carries one
/// line: the path and what went wrong. Only where the disk fails after the renaming the new file is there: the line says so.
///
/// A kill or a power cut while it is written leaves a temporary behind; whoever next writes the same file removes it. The
/// temporary of a live process is locked and stays, also that of another machine which shares the folder, unless the file system
/// knows no locks: then nothing is removed.
void write_whole_file(const std::filesystem::path& path, std::span<const std::byte> content);

/// The same for content too large to hold: `fill` writes the temporary, which is there and empty, by its name.
/// What `fill` throws is passed on, the temporary removed.
void write_whole_file(const std::filesystem::path& path,
                      const std::function<void(const std::filesystem::path& temporary)>& fill);

/// Forces to the disk which names there are in `folder`: what is new there, renamed or removed. Throws std::system_error.
void sync_folder(const std::filesystem::path& folder);

} // namespace needleturn::sim
