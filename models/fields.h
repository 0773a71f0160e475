/// The fields of a part, listed once by the part itself (`fields`), so that parts of one kind but of different scalars can
/// be walked side by side: a station of packs is filled lane by lane, one of dual numbers takes the numbers of a plain one.
///
/// A field is a number (the scalar P of the part), another part, a list, an option or a choice (std::variant) of parts, or
/// of the *form*: a name, a count, a place, a yes or no. Two parts of one form have the same equations in the same states;
/// only their numbers differ. What of the form a number decides, an infinite wave speed, a part tells by `form()`.
#pragma once

#include <concepts>
#include <cstddef>
#include <optional>
#include <string>
#include <tuple>
#include <type_traits>
#include <utility>
#include <variant>
#include <vector>

namespace needleturn::models {

namespace detail {

template <class T>
concept Listed = requires(T& part) {
    T::fields(part);
};
template <class T>
concept OfForm = std::integral<T> || std::same_as<T, std::string>;

template <class T> inline constexpr bool is_list = false;
template <class T> inline constexpr bool is_list<std::vector<T>> = true;
template <class T> inline constexpr bool is_option = false;
template <class T> inline constexpr bool is_option<std::optional<T>> = true;
template <class T> inline constexpr bool is_choice = false;
template <class... T> inline constexpr bool is_choice<std::variant<T...>> = true;

/// on(field of a, field of b) for each field of two parts.
template <class A, class B, class On> void each_field(A& a, B& b, const On& on) {
    auto of_a = std::remove_const_t<A>::fields(a);
    auto of_b = std::remove_const_t<B>::fields(b);
    [&]<std::size_t... I>(std::index_sequence<I...>) { (on(std::get<I>(of_a), std::get<I>(of_b)), ...); }
    (std::make_index_sequence<std::tuple_size_v<decltype(of_a)>>{});
}

/// on(alternative of a, alternative of b) for two choices that have chosen alike.
template <class A, class B, class On> void chosen(A& a, B& b, const On& on) {
    [&]<std::size_t... I>(std::index_sequence<I...>) {
        ((a.index() == I ? on(std::get<I>(a), std::get<I>(b)) : void()), ...);
    }
    (std::make_index_sequence<std::variant_size_v<std::remove_const_t<A>>>{});
}

} // namespace detail

/// on(number of a, number of b) for each number of two things of one form, in the order of their fields.
template <class A, class B, class On> void each_number(A& a, B& b, const On& on) {
    using Bare = std::remove_const_t<A>;
    const auto go_on = [&on](auto& x, auto& y) { each_number(x, y, on); };
    if constexpr (detail::Listed<Bare>) {
        detail::each_field(a, b, go_on);
    } else if constexpr (detail::is_list<Bare>) {
        for (std::size_t i = 0; i < a.size(); ++i)
            go_on(a[i], b[i]);
    } else if constexpr (detail::is_option<Bare>) {
        if (a)
            go_on(*a, *b);
    } else if constexpr (detail::is_choice<Bare>) {
        detail::chosen(a, b, go_on);
    } else if constexpr (!detail::OfForm<Bare>) {
        on(a, b);
    }
}

/// Whether two things have one form.
template <class A, class B> bool alike(const A& a, const B& b) {
    if constexpr (detail::Listed<A>) {
        bool all = true;
        if constexpr (requires { a.form(); })
            all = a.form() == b.form();
        detail::each_field(a, b, [&all](const auto& x, const auto& y) { all = all && alike(x, y); });
        return all;
    } else if constexpr (detail::is_list<A>) {
        bool all = a.size() == b.size();
        for (std::size_t i = 0; all && i < a.size(); ++i)
            all = alike(a[i], b[i]);
        return all;
    } else if constexpr (detail::is_option<A>) {
        return a.has_value() == b.has_value() && (!a || alike(*a, *b));
    } else if constexpr (detail::is_choice<A>) {
        bool all = a.index() == b.index();
        if (all)
            detail::chosen(a, b, [&all](const auto& x, const auto& y) { all = alike(x, y); });
        return all;
    } else if constexpr (detail::OfForm<A>) {
        return a == b;
    } else {
        return true; // numbers may differ
    }
}

/// Makes `to` what `from` is, its numbers as those of another scalar.
template <class From, class To> void convert(const From& from, To& to) {
    if constexpr (detail::Listed<From>) {
        detail::each_field(from, to, [](const auto& x, auto& y) { convert(x, y); });
    } else if constexpr (detail::is_list<From>) {
        to.resize(from.size());
        for (std::size_t i = 0; i < from.size(); ++i)
            convert(from[i], to[i]);
    } else if constexpr (detail::is_option<From>) {
        to.reset();
        if (from)
            convert(*from, to.emplace());
    } else if constexpr (detail::is_choice<From>) {
        [&]<std::size_t... I>(std::index_sequence<I...>) {
            ((from.index() == I ? convert(std::get<I>(from), to.template emplace<I>()) : void()), ...);
        }
        (std::make_index_sequence<std::variant_size_v<From>>{});
    } else {
        to = From(from);
    }
}

} // namespace needleturn::models
