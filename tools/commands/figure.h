/// needleturn figure: signals of a run as a picture file, for papers and slides; drawn by gnuplot.
#pragma once

#include "tools/commands/options.h"

#include <functional>

namespace needleturn {

void add_figure(Command program, std::function<int()>& action);

} // namespace needleturn
