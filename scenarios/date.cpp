#include "scenarios/date.h"

#include <chrono>
#include <cstddef>

namespace needleturn::scenarios {

namespace {

constexpr std::size_t day_alone = 10; ///< characters of "2026-03-01"

/// Two digits or more at `at`, which then stands behind them.
std::optional<int> digits(std::string_view text, std::size_t& at, std::size_t count) {
    int number = 0;
    if (at + count > text.size())
        return {};
    for (const auto end = at + count; at < end; ++at) {
        if (text[at] < '0' || text[at] > '9')
            return {};
        number = 10 * number + (text[at] - '0');
    }
    return number;
}

/// The decimals of seconds at `at`, ".25" or ",25"; 0 without any.
double decimals(std::string_view text, std::size_t& at) {
    double value = 0, place = 0.1;
    if (at < text.size() && (text[at] == '.' || text[at] == ','))
        for (++at; at < text.size() && text[at] >= '0' && text[at] <= '9'; ++at, place /= 10)
            value += place * (text[at] - '0');
    return value;
}

/// "Z", "+01:00", "-0530" or nothing at the end: s to take off.
std::optional<double> offset(std::string_view text, std::size_t at) {
    if (at == text.size() || text.substr(at) == "Z")
        return 0;
    const double sign = text[at] == '+' ? 1 : text[at] == '-' ? -1 : 0;
    const auto hours = digits(text, ++at, 2);
    if (sign == 0 || !hours)
        return {};
    if (at < text.size() && text[at] == ':')
        ++at;
    const auto minutes = digits(text, at, 2);
    if (!minutes || at != text.size())
        return {};
    constexpr double hour = 3600, minute = 60;
    return sign * (hour * *hours + minute * *minutes);
}

} // namespace

std::optional<double> date_of(std::string_view text) {
    std::size_t at = 0;
    const auto year = digits(text, at, 4);
    if (!year || at >= text.size() || text[at++] != '-')
        return {};
    const auto month = digits(text, at, 2);
    if (!month || at >= text.size() || text[at++] != '-')
        return {};
    const auto day = digits(text, at, 2);
    if (!day || at >= text.size() || (text[at] != 'T' && text[at] != ' '))
        return {};
    const auto hour = digits(text, ++at, 2);
    if (!hour || at >= text.size() || text[at++] != ':')
        return {};
    const auto minute = digits(text, at, 2);
    double second = 0;
    if (at < text.size() && text[at] == ':') {
        const auto whole = digits(text, ++at, 2);
        if (!whole)
            return {};
        second = *whole + decimals(text, at);
    }
    namespace chrono = std::chrono;
    const chrono::year_month_day date{chrono::year(*year), chrono::month(static_cast<unsigned>(*month)),
                                      chrono::day(static_cast<unsigned>(*day))};
    const auto zone = minute ? offset(text, at) : std::nullopt;
    if (!zone || !date.ok() || *hour > 23 || *minute > 59 || !(second < 61))
        return {};
    constexpr double of_day = 86400, of_hour = 3600, of_minute = 60;
    return of_day * static_cast<double>(chrono::sys_days(date).time_since_epoch().count()) + of_hour * *hour
           + of_minute * *minute + second - *zone;
}

bool is_date(std::string_view text) {
    return date_of(text) || (text.size() == day_alone && date_of(std::string(text) + "T00:00"));
}

bool lies_before(std::string_view date, std::string_view other) {
    const auto time = date_of(date), other_time = date_of(other);
    if (time && other_time)
        return *time < *other_time;
    return date.substr(0, day_alone) < other.substr(0, day_alone);
}

} // namespace needleturn::scenarios
