/// What comes in from outside, one function per reader: any bytes go in, and either they are read and mean the same when written
/// and read again, or the reader says in one line what is wrong with them. Whatever else happens is a finding: the function then
/// throws std::logic_error, or lets through what the reader has thrown.
#pragma once

#include <string_view>

namespace needleturn::fuzz {

void unit(std::string_view bytes);     ///< the first byte chooses the dimension, the rest is a quantity
void scenario(std::string_view bytes); ///< a scenario file
void set(std::string_view bytes);      ///< the text behind --set
void study(std::string_view bytes);    ///< a study file
void formula(std::string_view bytes);  ///< the formula of a study's metric
void hardware(std::string_view bytes); ///< a hardware file
void measured(std::string_view bytes); ///< a file of what is known of a valve
void trace(std::string_view bytes);    ///< a logger's trace
void journal(std::string_view bytes);  ///< a journal, as a killed run or a bad disk leaves it

} // namespace needleturn::fuzz
