/// Samples of a long run in a file that has no name: it is gone with the program, however that ends.
#pragma once

#include "sim/recording.h"

#include <cstddef>
#include <cstdint>
#include <filesystem>
#include <span>
#include <vector>

namespace needleturn::sim {

/// Pieces of 16384 samples of one signal, as they are in memory. A piece in which all samples are the same takes no room.
class Spool final : public SampleStore {
  public:
    /// In `folder`. Throws std::runtime_error, one line, when no file can be made there.
    Spool(std::filesystem::path folder, std::size_t signals);
    Spool(const Spool&) = delete;
    Spool& operator=(const Spool&) = delete;
    ~Spool() override;

    /// Throws std::runtime_error, one line, when the disk is full.
    void append(const std::vector<std::vector<double>>& values) override;
    void read(std::size_t signal, std::size_t begin, std::span<double> to) const override;

  private:
    struct Piece {
        std::int64_t place = -1; ///< in the file; -1: every sample is `value`
        double value = 0;
    };
    [[noreturn]] void refuse(int error) const;
    void read_piece(std::span<std::byte> to, std::int64_t place) const;

    std::filesystem::path folder_;
    std::size_t signals_;
    int descriptor_ = -1;
    std::int64_t end_ = 0;
    std::vector<Piece> pieces_; ///< of all signals, one after another, then the next of all
};

} // namespace needleturn::sim
