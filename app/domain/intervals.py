"""How far a share seen in some devices can be trusted: Wilson, and exact for a known fleet."""

from collections.abc import Callable
from dataclasses import dataclass
from math import comb, sqrt
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


def hypergeometric_bounds(found: int, read: int, fleet: int, confidence: float = 0.95) -> Interval:
    """Exact two-sided bounds on the share of the whole fleet, each tail half of the doubt."""
    _check(found, read, confidence)
    if fleet < read or fleet < 1:
        raise ValueError("the fleet is smaller than the devices read")
    tail = (1 - confidence) / 2
    least = _first(found, fleet, lambda has: _at_least(found, read, has, fleet) > tail)
    most = _last(found, read, fleet, tail)
    return Interval(least / fleet, most / fleet, "hypergeometric")


def at_most(found_off: int, read: int, fleet: int, confidence: float = 0.95) -> int:
    """Exact one-sided upper limit on how many of the fleet are off."""
    _check(found_off, read, confidence)
    if fleet < read:
        raise ValueError("the fleet is smaller than the devices read")
    return _last(found_off, read, fleet, 1 - confidence)


def _first(low: int, high: int, holds: Callable[[int], bool]) -> int:
    """The least number from which a condition holds that, once true, stays true."""
    while low < high:
        middle = (low + high) // 2
        low, high = (low, middle) if holds(middle) else (middle + 1, high)
    return low


def _last(found: int, read: int, fleet: int, tail: float) -> int:
    """The greatest number off at which as few as found is still not too unlikely."""
    most = fleet - (read - found)
    return (
        _first(found, most + 1, lambda has: has > most or _up_to(found, read, has, fleet) <= tail)
        - 1
    )


def _up_to(found: int, read: int, has: int, fleet: int) -> float:
    ways = sum(comb(has, k) * comb(fleet - has, read - k) for k in range(found + 1))
    return ways / comb(fleet, read)


def _at_least(found: int, read: int, has: int, fleet: int) -> float:
    ways = sum(comb(has, k) * comb(fleet - has, read - k) for k in range(found, read + 1))
    return ways / comb(fleet, read)


def _check(found: int, read: int, confidence: float) -> None:
    if not 0 <= found <= read:
        raise ValueError("found must lie between 0 and the number read")
    if not 0 < confidence < 1:
        raise ValueError("confidence must lie between 0 and 1")
