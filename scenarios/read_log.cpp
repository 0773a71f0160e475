/// The keys of a log (demand_log.h).
#include "scenarios/demand_log.h"
#include "scenarios/table_reader.h"

#include <cmath>

namespace needleturn::scenarios {

bool TableReader::log_file(std::string_view file, std::string_view column, std::string_view from,
                           DemandLog& log) {
    const auto* node = table_.get(file);
    for (const auto key : {column, from})
        if (const auto* beside = table_.get(key); beside != nullptr && node == nullptr)
            fail(*beside, key, fmt::format("means nothing here: there is no {}", file));
    if (node == nullptr)
        return false;
    for (const auto& [key, value] : table_)
        if (key != file && key != column && key != from)
            fail(value, key.str(), fmt::format("means nothing here: the rows are in the {}", file));
    std::string path, of, begins;
    required(file, path);
    optional(column, of);
    // TOML has times and dates of its own, which need no quotes.
    const auto* begin = table_.get(from);
    if (begin != nullptr && (begin->is_time() || begin->is_date_time()))
        begins = shown(*begin);
    else
        optional(from, begins);
    std::string found;
    const auto text = hardware_.text_named(path, found);
    if (!text)
        fail(*node, file, found);
    log = read_demand_log(*text, found, of, begins);
    log.name = path;
    return true;
}

void TableReader::log_rows(std::string_view name, std::string_view seconds, std::string_view flows,
                           std::string_view unit, DemandLog& log) {
    if (table_.get(seconds) == nullptr && table_.get(flows) == nullptr)
        miss("file", "write file = \"day.csv\", or seconds and flows");
    optional(name, log.name);
    numbers(seconds, log.seconds);
    numbers(flows, log.flows);
    std::string word;
    const auto* said = table_.get(unit);
    if (said == nullptr)
        miss(unit, "write that of the flows, unit = \"L/s\"");
    required(unit, word);
    double size = 0;
    try {
        size = flow_unit(word);
    } catch (const UnitError& error) {
        fail(*said, unit, error.what());
    }
    check(log.seconds.size() > 1, seconds, "two or more are wanted");
    check(log.seconds.size() == log.flows.size(), flows,
          fmt::format("must be as many numbers as {}", seconds));
    for (std::size_t i = 0; i < log.flows.size(); ++i) {
        check(i == 0 || log.seconds[i] > log.seconds[i - 1], seconds,
              fmt::format("must rise; number {} does not", i + 1));
        check(log.flows[i] >= 0, flows, fmt::format("number {} is below 0", i + 1));
        log.flows[i] *= size;
        check(log.flows[i] <= 100, flows, fmt::format("number {} is above 100 m3/s", i + 1));
    }
}

} // namespace needleturn::scenarios
