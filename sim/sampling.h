/// Sampling plans: points spread over the unit cube. A point depends only on its number and the seed, so any
/// thread or machine can make any part of a plan, in any order, without holding the rest.
#pragma once

#include <cstddef>
#include <cstdint>
#include <memory>
#include <span>

namespace needleturn::sim {

/// A number of 64 random-looking bits made from two: the finaliser of SplitMix64 (G. L. Steele, D. Lea and
/// C. H. Flood, "Fast splittable pseudorandom number generators", OOPSLA 2014, from memory).
std::uint64_t mixed(std::uint64_t a, std::uint64_t b);

/// Latin hypercube: of n points each of the n slices of every axis holds exactly one, at a random place in it.
/// M. D. McKay, R. J. Beckman and W. J. Conover, Technometrics 21:239 (1979), doi 10.2307/1268522.
class LatinHypercube {
  public:
    /// `points` from 1 to 2^32. Throws std::invalid_argument.
    LatinHypercube(std::uint64_t points, std::uint64_t seed);

    /// Coordinate on `axis` of point `number` < points, in [0, 1).
    double operator()(std::uint64_t number, std::size_t axis) const;

  private:
    std::uint64_t shuffled(std::uint64_t number, std::uint64_t key) const;

    std::uint64_t points_, seed_;
    unsigned half_bits_ = 1; ///< of the power of 4 that holds all numbers
};

/// Scrambled Sobol points. The sequence is Boost.Random's (direction numbers of Joe and Kuo, 2008), with the
/// origin put back that it leaves out, so that 2^m points from a multiple of 2^m on are a net. The scrambling is
/// Owen's nested one: each bit of a coordinate is flipped or not by chance that depends on the bits before it.
/// A. B. Owen, "Randomly permuted (t,m,s)-nets and (t,s)-sequences", Lecture Notes in Statistics 106 (1995),
/// doi 10.1007/978-1-4612-2552-2_19.
class ScrambledSobol { // NOLINT(cppcoreguidelines-special-member-functions): its pointer forbids copies
  public:
    /// `axes` from 1 to 3667, as far as Boost's direction numbers go. Throws std::invalid_argument.
    ScrambledSobol(std::size_t axes, std::uint64_t seed);
    ~ScrambledSobol();
    ScrambledSobol(ScrambledSobol&&) noexcept;
    ScrambledSobol& operator=(ScrambledSobol&&) noexcept;

    /// Point `number`, coordinates in [0, 1). One object serves one thread.
    void operator()(std::uint64_t number, std::span<double> point);

  private:
    struct Sequence; // Boost's header takes seconds to compile
    std::size_t axes_;
    std::uint64_t seed_;
    std::unique_ptr<Sequence> sequence_;
    std::uint64_t next_ = 1; ///< number of the point that the sequence gives next
};

} // namespace needleturn::sim
