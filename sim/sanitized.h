/// Whether a sanitizer watches this build: it takes terabytes of the address space for itself.
#pragma once

#if defined __SANITIZE_ADDRESS__ || defined __SANITIZE_THREAD__ // GCC
#define NEEDLETURN_SANITIZED true
#elif defined __has_feature // Clang
#if __has_feature(address_sanitizer) || __has_feature(thread_sanitizer)
#define NEEDLETURN_SANITIZED true
#endif
#endif
#ifndef NEEDLETURN_SANITIZED
#define NEEDLETURN_SANITIZED false
#endif

namespace needleturn::sim {

inline constexpr bool sanitized = NEEDLETURN_SANITIZED;

} // namespace needleturn::sim

#undef NEEDLETURN_SANITIZED
