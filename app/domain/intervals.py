"""How far a share seen in some devices can be trusted: Wilson, Clopper-Pearson, and exact for a
known fleet.

Exact bounds turn the test round: a share is possible as long as a result as extreme as the one
found is likelier than the doubt that is left (half of it at each end, all of it at one end).
"""

from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from math import comb, exp, isclose, lgamma, log, sqrt
from statistics import NormalDist


@dataclass(frozen=True)
class Interval:
    """Shares, 0 to 1, both ends included."""

    low: float
    high: float
    method: str


def wilson(found: int, read: int, confidence: float = 0.95) -> Interval:
    """Score interval without continuity correction (Wilson, J Am Stat Assoc 1927;22:209-12)."""
    _check(found, read, confidence)
    if read == 0:
        return Interval(0.0, 1.0, "Wilson")
    z = NormalDist().inv_cdf(1 - (1 - confidence) / 2)
    share, spread = found / read, z * z / read
    middle = share + spread / 2
    reach = z * sqrt(share * (1 - share) / read + spread / read / 4)
    low, high = (middle - reach) / (1 + spread), (middle + reach) / (1 + spread)
    return Interval(0.0 if found == 0 else low, 1.0 if found == read else high, "Wilson")


def clopper_pearson(found: int, read: int, confidence: float = 0.95) -> Interval:
    """Exact binomial interval (Clopper and Pearson, Biometrika 1934;26:404-13)."""
    _check(found, read, confidence)
    tail = float(_doubt(confidence) / 2)
    low = 0.0 if found == 0 else _share(lambda p: _binomial(found, read, read, p) > tail)
    high = 1.0 if found == read else _share(lambda p: _binomial(0, found, read, p) <= tail)
    return Interval(low, high, "Clopper-Pearson")


def hypergeometric_counts(
    found: int, read: int, fleet: int, confidence: float = 0.95
) -> tuple[int, int]:
    """Exact two-sided bounds on how many devices of the fleet are as those found."""
    _check(found, read, confidence, fleet)
    tail = _doubt(confidence) / 2
    least = _first(found, fleet, lambda has: _Draw(has, read, fleet).exceeds(found, read, tail))
    return least, _last(found, read, fleet, tail)


def hypergeometric_bounds(found: int, read: int, fleet: int, confidence: float = 0.95) -> Interval:
    """Exact two-sided bounds on the share of the whole fleet."""
    least, most = hypergeometric_counts(found, read, fleet, confidence)
    return Interval(least / fleet, most / fleet, "hypergeometric")


def at_most(found_off: int, read: int, fleet: int, confidence: float = 0.95) -> int:
    """Exact one-sided upper limit on how many of the fleet are off."""
    _check(found_off, read, confidence, fleet)
    return _last(found_off, read, fleet, _doubt(confidence))


@dataclass(frozen=True)
class _Draw:
    """How many of those read have the property, when `has` of the fleet have it."""

    has: int
    read: int
    fleet: int

    def exceeds(self, low: int, high: int, tail: Fraction) -> bool:
        """Is it likelier than `tail` to find from `low` to `high`? Exact, borders included."""
        low, high = max(low, self.read - (self.fleet - self.has)), min(high, self.has)
        peak = (self.read + 1) * (self.has + 1) // (self.fleet + 2)
        rough = _sum(self._log_chance, peak, low, high)
        if not isclose(rough, tail, rel_tol=1e-6):
            return rough > tail
        return self._ways(low, high) > tail * comb(self.fleet, self.read)

    def _log_chance(self, k: int) -> float:
        return (
            _log_comb(self.has, k)
            + _log_comb(self.fleet - self.has, self.read - k)
            - _log_comb(self.fleet, self.read)
        )

    def _ways(self, low: int, high: int) -> int:
        """Draws with `low` to `high` of them, each count from the one before it."""
        others = self.fleet - self.has
        ways = comb(self.has, low) * comb(others, self.read - low)
        total = ways
        for k in range(low, high):
            ways = ways * (self.has - k) * (self.read - k)
            ways //= (k + 1) * (others - self.read + k + 1)
            total += ways
        return total


def _first(low: int, high: int, holds: Callable[[int], bool]) -> int:
    """The least number from which a condition holds that, once true, stays true."""
    while low < high:
        middle = (low + high) // 2
        low, high = (low, middle) if holds(middle) else (middle + 1, high)
    return low


def _last(found: int, read: int, fleet: int, tail: Fraction) -> int:
    """The greatest number at which as few as found is still not too unlikely."""
    most = fleet - (read - found)
    too_many = _first(
        found + 1, most + 1, lambda has: not _Draw(has, read, fleet).exceeds(0, found, tail)
    )
    return too_many - 1


def _share(holds: Callable[[float], bool]) -> float:
    """The share from which a condition holds that, once true, stays true."""
    low, high = 0.0, 1.0
    while low < (middle := (low + high) / 2) < high:
        low, high = (low, middle) if holds(middle) else (middle, high)
    return middle


def _binomial(low: int, high: int, read: int, share: float) -> float:
    def log_chance(k: int) -> float:
        return _log_comb(read, k) + k * log(share) + (read - k) * log(1 - share)

    return _sum(log_chance, int((read + 1) * share), low, high)


def _sum(log_chance: Callable[[int], float], peak: int, low: int, high: int) -> float:
    """Chance to find from `low` to `high`, walked outwards from its likeliest count until the
    rest no longer adds to the sum; a sum too small for a float is 0."""
    top = min(max(peak, low), high)
    total = 0.0
    for walk in (range(top, high + 1), range(top - 1, low - 1, -1)):
        for k in walk:
            chance = exp(log_chance(k))
            if total + chance == total:
                break
            total += chance
    return total


def _log_comb(n: int, k: int) -> float:
    return lgamma(n + 1) - lgamma(k + 1) - lgamma(n - k + 1)


def _doubt(confidence: float) -> Fraction:
    """Exactly 1/20 for 0.95, which binary floating point is not."""
    return 1 - Fraction(str(confidence))


def _check(found: int, read: int, confidence: float, fleet: int | None = None) -> None:
    if not 0 <= found <= read:
        raise ValueError("found must lie between 0 and the number read")
    if fleet is not None and (fleet < read or fleet < 1):
        raise ValueError("the fleet is smaller than the devices read")
    if not 0 < confidence < 1:
        raise ValueError("confidence must lie between 0 and 1")
