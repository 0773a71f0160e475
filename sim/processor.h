/// How the work of lanes (sim/lanes.h) is compiled for the processor: the one place that knows of any. Its includer compiles
/// with -fno-math-errno, so that the roots of a pack are one instruction, and with -Wno-psabi, for a pack never travels by
/// value (sim/pack.h).
///
/// CallsFor<W>::run calls its work flattened, so that all of it is compiled for the processor, and nothing else is; and apart
/// from other work, because the right-hand side is called from seven places.
#pragma once

#include <cstddef>

namespace needleturn::sim {

template <std::size_t W> struct CallsFor;

template <> struct CallsFor<2> {
    template <class Work> [[gnu::noinline, gnu::flatten]] static void run(const Work& work) { work(); }
};

#if defined(__x86_64__)
template <> struct CallsFor<4> {
    template <class Work>
    [[gnu::noinline, gnu::flatten, gnu::target("avx2")]] static void run(const Work& work) {
        work();
    }
};

template <> struct CallsFor<8> {
    template <class Work>
    [[gnu::noinline, gnu::flatten, gnu::target("avx512f,avx512dq,avx512vl")]] static void
    run(const Work& work) {
        work();
    }
};
#endif

/// How many lanes a register of the processor at hand holds: 8 with AVX-512, 4 with AVX2, 2 otherwise.
inline std::size_t lanes_here() {
#if defined(__x86_64__)
    if (__builtin_cpu_supports("avx512f") && __builtin_cpu_supports("avx512dq")
        && __builtin_cpu_supports("avx512vl"))
        return 8;
    if (__builtin_cpu_supports("avx2"))
        return 4;
#endif
    return 2;
}

} // namespace needleturn::sim
