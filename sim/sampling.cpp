#include "sim/sampling.h"

#include <boost/random/sobol.hpp>

#include <bit>
#include <stdexcept>

namespace needleturn::sim {

namespace {

/// Bits of a double's fraction: what a coordinate can hold.
constexpr unsigned digits = 53;

double fraction(std::uint64_t bits) { return static_cast<double>(bits >> (64 - digits)) * 0x1p-53; }

/// Owen's scrambling of a coordinate given as the first 64 bits of its fraction.
std::uint64_t scrambled(std::uint64_t bits, std::uint64_t key) {
    std::uint64_t flips = 0;
    for (unsigned k = 0; k < digits; ++k) {
        // The bits before k, with a 1 ahead of them so that 0 and 00 differ.
        const std::uint64_t before = k == 0 ? 1 : (bits >> (64 - k)) | (std::uint64_t{1} << k);
        flips |= (mixed(key, before) >> 63) << (63 - k);
    }
    return bits ^ flips;
}

} // namespace

std::uint64_t mixed(std::uint64_t a, std::uint64_t b) {
    const auto finalised = [](std::uint64_t z) {
        z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
        z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
        return z ^ (z >> 31);
    };
    constexpr std::uint64_t golden = 0x9e3779b97f4a7c15u;
    return finalised(finalised(a + golden) + b * golden + golden);
}

LatinHypercube::LatinHypercube(std::uint64_t points, std::uint64_t seed) : points_{points}, seed_{seed} {
    if (points < 1 || points > (std::uint64_t{1} << 32))
        throw std::invalid_argument("a Latin hypercube needs 1 to 2^32 points");
    half_bits_ = (static_cast<unsigned>(std::bit_width(points - 1)) + 1) / 2;
    half_bits_ = half_bits_ == 0 ? 1 : half_bits_;
}

/// A permutation of 0 .. points - 1: a Feistel network permutes the numbers of 2 half_bits_ bits, and a number
/// that lands outside is sent through again until it is inside ("cycle walking", J. Black and P. Rogaway,
/// "Ciphers with arbitrary finite domains", CT-RSA 2002).
std::uint64_t LatinHypercube::shuffled(std::uint64_t number, std::uint64_t key) const {
    const std::uint64_t mask = (std::uint64_t{1} << half_bits_) - 1;
    do {
        std::uint64_t left = number >> half_bits_;
        std::uint64_t right = number & mask;
        constexpr std::uint64_t rounds = 6;
        for (std::uint64_t round = 0; round < rounds; ++round) {
            const std::uint64_t next = left ^ (mixed(key + round, right) & mask);
            left = right;
            right = next;
        }
        number = (left << half_bits_) | right;
    } while (number >= points_);
    return number;
}

double LatinHypercube::operator()(std::uint64_t number, std::size_t axis) const {
    const std::uint64_t key = mixed(seed_, axis);
    const double place = static_cast<double>(shuffled(number, key)) + fraction(mixed(key ^ seed_, number));
    return place / static_cast<double>(points_);
}

struct ScrambledSobol::Sequence {
    boost::random::sobol points;
};

ScrambledSobol::ScrambledSobol(std::size_t axes, std::uint64_t seed)
    : axes_{axes},
      seed_{seed},
      sequence_{
          std::make_unique<Sequence>(Sequence{boost::random::sobol(axes >= 1 && axes <= 3667 ? axes : 1)})} {
    if (axes != sequence_->points.dimension())
        throw std::invalid_argument("a Sobol sequence has 1 to 3667 axes");
}
ScrambledSobol::~ScrambledSobol() = default;
ScrambledSobol::ScrambledSobol(ScrambledSobol&&) noexcept = default;
ScrambledSobol& ScrambledSobol::operator=(ScrambledSobol&&) noexcept = default;

void ScrambledSobol::operator()(std::uint64_t number, std::span<double> point) {
    if (number > 0 && number != next_) {
        sequence_->points.seed();
        sequence_->points.discard((number - 1) * axes_);
    }
    for (std::size_t axis = 0; axis < axes_; ++axis) {
        const std::uint64_t bits = number > 0 ? sequence_->points() : 0;
        point[axis] = fraction(scrambled(bits, mixed(seed_, axis)));
    }
    if (number > 0)
        next_ = number + 1;
}

} // namespace needleturn::sim
