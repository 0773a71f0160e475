/// needleturn figure: signals of a run as a picture file, for papers and slides; drawn by gnuplot.
#pragma once

#include <functional>

namespace CLI {
class App;
}

namespace needleturn {

void add_figure(CLI::App& program, std::function<int()>& action);

} // namespace needleturn
