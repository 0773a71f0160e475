/// Puts a file in place as a whole or not at all.
#pragma once

#include <cstddef>
#include <filesystem>
#include <functional>
#include <span>

namespace needleturn::sim {

/// Gives `path` the content, replacing the regular file that may be there (a symbolic link is followed).
///
/// The bytes go to a temporary in the same folder, ".<name>.part-<pid>-<number>", are forced to the disk, and
/// the temporary is renamed over the final name. Whoever opens `path` sees the old file or the new one, never
/// a part.
///
/// On any error the temporary is removed, the old file stays as it was, and std::runtime_error carries one
/// line: the path and what went wrong.
///
/// Only a kill or a power cut in the few milliseconds of writing leaves a temporary behind. Later runs leave
/// it alone: it may belong to a run still alive, here or on another machine that shares the folder, and no
/// test for that is certain. Nothing ever reads it; once no run writes into the folder it may be deleted.
void write_whole_file(const std::filesystem::path& path, std::span<const std::byte> content);

/// The same for content too large to hold: `fill` writes the temporary, which is there and empty, by its name.
/// What `fill` throws is passed on, the temporary removed.
void write_whole_file(const std::filesystem::path& path,
                      const std::function<void(const std::filesystem::path& temporary)>& fill);

} // namespace needleturn::sim
