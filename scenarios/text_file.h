/// A text file as a string, or one line about why not.
#pragma once

#include <filesystem>
#include <string>

namespace needleturn::scenarios {

/// The whole text. Throws ScenarioError for what is missing, a folder, not permitted, larger than 8 MB,
/// empty, or contains bytes that no text has.
std::string read_text_file(const std::filesystem::path& path);

} // namespace needleturn::scenarios
