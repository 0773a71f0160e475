/// What scenarios/read_demand_log.cpp does where there are no other files: the page has no room for a reader of them.
#include "scenarios/demand_log.h"
#include "scenarios/table_reader.h"

namespace needleturn::scenarios {

DemandLog read_demand_log(std::string_view, const std::string& name, const std::string&, const std::string&) {
    raise(name + ": logs are not read here; open a scenario that the program wrote, which has their rows");
}

} // namespace needleturn::scenarios
