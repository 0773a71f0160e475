/// Work on several threads, for whatever runs many cases.
#pragma once

#include <algorithm>
#include <atomic>
#include <cstddef>
#include <exception>
#include <mutex>
#include <thread>
#include <vector>

namespace needleturn {

/// As many threads as the machine runs at once.
inline unsigned all_processors() { return std::max(1u, std::thread::hardware_concurrency()); }

/// Calls work() on so many threads, of which this is one, and returns when all are back. Then what one of them threw is thrown
/// again, the first of several.
template <class Work> void on_threads(std::size_t threads, const Work& work) {
    std::mutex mutex;
    std::exception_ptr failure;
    const auto guarded = [&] {
        try {
            work();
        } catch (...) {
            const std::scoped_lock lock(mutex);
            if (!failure)
                failure = std::current_exception();
        }
    };
    {
        std::vector<std::jthread> others;
        for (std::size_t i = 1; i < threads; ++i)
            others.emplace_back(guarded);
        guarded();
    }
    if (failure)
        std::rethrow_exception(failure);
}

/// Shares out the numbers below `count`: each thread calls begin() for work of its own, and that with one number after the other.
/// Once work(i) has returned false or thrown, no more is begun. Throws as on_threads.
template <class Begin> void share_out(std::size_t count, std::size_t threads, const Begin& begin) {
    std::atomic<std::size_t> next{0};
    std::atomic<bool> wanted{true};
    on_threads(std::min(count, threads), [&] {
        auto work = begin();
        try {
            for (std::size_t i = next++; i < count && wanted; i = next++)
                if (!work(i))
                    wanted = false;
        } catch (...) {
            wanted = false;
            throw;
        }
    });
}

} // namespace needleturn
