/// Recorded signals as analyses read them: sample by sample, wherever the samples are. Those of a long run are in a file and are
/// read piece by piece, so that memory does not grow with the length of the run.
#pragma once

#include "sim/recording.h"

#include <algorithm>
#include <cstddef>
#include <span>
#include <string>
#include <vector>

namespace needleturn::sim {

/// One signal. An object serves one thread. Reading forward, or backward, is quick; jumping about is not.
class Track {
  public:
    Track(std::span<const double> samples) : data_{samples.data()}, size_{samples.size()} {}
    Track(const std::vector<double>& samples) : Track(std::span(samples)) {}
    /// Signal number `signal` of `store`, which must outlive this.
    Track(const SampleStore& store, std::size_t signal, std::size_t size)
        : store_{&store}, signal_{signal}, size_{size} {}

    std::size_t size() const { return size_; }

    /// Sample k < size().
    double operator[](std::size_t k) const {
        if (store_ == nullptr)
            return data_[k];
        if (k - first_ >= piece_.size())
            hold(k);
        return piece_[k - first_];
    }

    /// Samples [begin, end) in one piece: where they are, or read into `room`.
    std::span<const double> stretch(std::size_t begin, std::size_t end, std::vector<double>& room) const {
        if (store_ == nullptr)
            return {data_ + begin, end - begin};
        room.resize(end - begin);
        store_->read(signal_, begin, room);
        return room;
    }

  private:
    /// Lets the piece with sample k be the one at hand.
    void hold(std::size_t k) const {
        constexpr std::size_t piece = 16384;
        first_ = k / piece * piece;
        piece_.resize(std::min(piece, size_ - first_));
        store_->read(signal_, first_, piece_);
    }

    const SampleStore* store_ = nullptr; ///< none: all samples are in memory
    std::size_t signal_ = 0;
    const double* data_ = nullptr;      ///< in memory
    mutable std::vector<double> piece_; ///< stored: the samples from first_ on that are at hand
    mutable std::size_t first_ = 0;
    std::size_t size_ = 0;
};

/// The signals of a recording, which must outlive this, in memory or stored.
class Tracks {
  public:
    Tracks(const Recording& recording) : recording_{&recording} {}

    std::size_t samples() const { return recording_->samples(); }
    bool has(const std::string& name) const { return recording_->has(name); }
    /// Throws std::out_of_range naming it.
    Track operator[](const std::string& name) const { return at(recording_->place_of(name)); }
    Track at(std::size_t signal) const {
        if (recording_->store)
            return {*recording_->store, signal, samples()};
        return {recording_->values[signal]};
    }

  private:
    const Recording* recording_;
};

} // namespace needleturn::sim
