#include "tools/studies/station_system.h"

template class needleturn::sim::Assembly<needleturn::models::Station>;
