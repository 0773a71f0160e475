/// What the C++20 library that comes with Emscripten 3.1.6 (libc++ 14) lacks of what our sources use: algorithms on ranges,
/// bit_cast, numbers with a decimal point from text, and threads. Put before every source of the rig by its build (-include), and only there, so
/// that the sources themselves stay plain C++20. Delete it when Debian's Emscripten has caught up.
#pragma once

#include <algorithm>
#include <cerrno>
#include <charconv>
#include <cmath>
#include <cstdlib>
#include <functional>
#include <iterator>
#include <string>
#include <string_view>
#include <system_error>
#include <type_traits>
#include <utility>

// NOLINTBEGIN(cert-dcl58-cpp): namespace std is where the missing pieces are looked for.
namespace std {

template <class To, class From> constexpr To bit_cast(const From& from) noexcept {
    return __builtin_bit_cast(To, from);
}

/// Without threads what one is given is done at once.
struct jthread {
    template <class Work, class = enable_if_t<!is_same_v<decay_t<Work>, jthread>>>
    explicit jthread(Work&& work) {
        work();
    }
};

/// As std::from_chars for double, of the decimal forms: musl's strtod rounds correctly and knows one locale.
inline from_chars_result from_chars(const char* first, const char* last, double& value) {
    // strtod would also take leading space, a plus sign and hexadecimal digits.
    const char* at = first != last && *first == '-' ? first + 1 : first;
    if (at == last || !((*at >= '0' && *at <= '9') || *at == '.'))
        return {first, errc::invalid_argument};
    size_t length = 0;
    while (at + length != last && string_view{"0123456789.eE+-"}.find(at[length]) != string_view::npos)
        ++length;
    const string digits(first, at + length);
    char* end = nullptr;
    errno = 0;
    const double read = strtod(digits.c_str(), &end);
    if (end == digits.c_str())
        return {first, errc::invalid_argument};
    const char* stop = first + (end - digits.c_str());
    if (errno == ERANGE)
        return {stop, errc::result_out_of_range};
    value = read;
    return {stop, errc{}};
}

namespace ranges {

struct as_it_is {
    template <class T> const T& operator()(const T& value) const { return value; }
};

template <class Compare, class Project> auto by(Compare compare, Project project) {
    return [compare, project](const auto& a, const auto& b) {
        return invoke(compare, invoke(project, a), invoke(project, b));
    };
}
template <class Test, class Project> auto of(Test test, Project project) {
    return [test, project](const auto& a) { return invoke(test, invoke(project, a)); };
}

template <class R, class C = std::less<>, class P = as_it_is>
void sort(R&& r, C compare = {}, P project = {}) {
    std::sort(std::begin(r), std::end(r), by(compare, project));
}
template <class R, class C = std::less<>, class P = as_it_is>
void stable_sort(R&& r, C compare = {}, P project = {}) {
    std::stable_sort(std::begin(r), std::end(r), by(compare, project));
}
template <class R, class T, class P = as_it_is> auto find(R&& r, const T& value, P project = {}) {
    return std::find_if(std::begin(r), std::end(r),
                        [&](const auto& a) { return invoke(project, a) == value; });
}
template <class R, class T, class P = as_it_is> auto find_if(R&& r, T test, P project = {}) {
    return std::find_if(std::begin(r), std::end(r), of(test, project));
}
template <class R, class T, class C = std::less<>, class P = as_it_is>
auto lower_bound(R&& r, const T& value, C compare = {}, P project = {}) {
    return std::lower_bound(std::begin(r), std::end(r), value, [&](const auto& a, const T& b) {
        return invoke(compare, invoke(project, a), b);
    });
}
template <class R, class T, class P = as_it_is> bool all_of(R&& r, T test, P project = {}) {
    return std::all_of(std::begin(r), std::end(r), of(test, project));
}
template <class R, class T, class P = as_it_is> bool any_of(R&& r, T test, P project = {}) {
    return std::any_of(std::begin(r), std::end(r), of(test, project));
}
template <class R, class T, class P = as_it_is> auto count_if(R&& r, T test, P project = {}) {
    return std::count_if(std::begin(r), std::end(r), of(test, project));
}
template <class R, class C = std::less<>, class P = as_it_is>
auto max_element(R&& r, C compare = {}, P project = {}) {
    return std::max_element(std::begin(r), std::end(r), by(compare, project));
}
template <class R, class C = std::less<>, class P = as_it_is>
auto min_element(R&& r, C compare = {}, P project = {}) {
    return std::min_element(std::begin(r), std::end(r), by(compare, project));
}
template <class R, class T, class P = as_it_is> bool none_of(R&& r, T test, P project = {}) {
    return std::none_of(std::begin(r), std::end(r), of(test, project));
}
template <class R, class T, class P = as_it_is> auto count(R&& r, const T& value, P project = {}) {
    return std::count_if(std::begin(r), std::end(r),
                         [&](const auto& a) { return invoke(project, a) == value; });
}
template <class R, class F> void for_each(R&& r, F function) {
    std::for_each(std::begin(r), std::end(r), function);
}
template <class R, class T> void replace(R&& r, const T& from, const T& to) {
    std::replace(std::begin(r), std::end(r), from, to);
}
template <class R> auto minmax(R&& r) {
    const auto [low, high] = std::minmax_element(std::begin(r), std::end(r));
    return std::pair(*low, *high);
}
template <class R> auto minmax_element(R&& r) { return std::minmax_element(std::begin(r), std::end(r)); }
template <class R, class C = std::less<>, class P = as_it_is>
auto max(R&& r, C compare = {}, P project = {}) {
    return *ranges::max_element(r, compare, project);
}
template <class R, class C = std::less<>, class P = as_it_is>
auto min(R&& r, C compare = {}, P project = {}) {
    return *ranges::min_element(r, compare, project);
}
template <class R, class Out> Out copy(R&& r, Out out) { return std::copy(std::begin(r), std::end(r), out); }
template <class R, class Out, class T> Out copy_if(R&& r, Out out, T test) {
    return std::copy_if(std::begin(r), std::end(r), out, test);
}
template <class R, class Out> Out move(R&& r, Out out) { return std::move(std::begin(r), std::end(r), out); }
template <class R, class Out, class F> Out transform(R&& r, Out out, F function) {
    return std::transform(std::begin(r), std::end(r), out, function);
}
template <class R, class I> void nth_element(R&& r, I nth) {
    std::nth_element(std::begin(r), nth, std::end(r));
}
template <class R1, class R2, class Out, class F> Out transform(R1&& a, R2&& b, Out out, F function) {
    return std::transform(std::begin(a), std::end(a), std::begin(b), out, function);
}

} // namespace ranges
} // namespace std
// NOLINTEND(cert-dcl58-cpp)
