"""The best age bands, exactly: of all ways to cut months into k bands and of all pairs of limits.

A cost is given for every month and limit of either side. `worst` makes the largest cost of any
month as small as can be, `mean` the mean over the months. Every band takes one pair of limits,
the low one below the high one. Of equal pairs the tightest is taken; where several cuts share the
smallest worst, the one with the smallest mean, each band keeping the limits of its own worst.
"""

from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

Costs = NDArray[np.float64]
Whole = NDArray[np.intp]
EQUAL = 1e-9  # costs that differ by less are the same: sums round in the last bits
_ENDLESS = float("inf")


class Aim(StrEnum):
    WORST = "worst"
    MEAN = "mean"


@dataclass(frozen=True)
class FoundBand:
    """Rows `start` up to `end`, and the columns of its limits."""

    start: int
    end: int
    low: int
    high: int


@dataclass(frozen=True)
class Sides:
    """A row a month, a column a limit; the limits themselves, rising. A side that is left out has
    one column, at no cost, and a limit that never meets the other."""

    low: Costs
    high: Costs
    lows: Costs
    highs: Costs


def best_bands(sides: Sides, aim: Aim, most: int) -> list[tuple[FoundBand, ...]]:
    """The best with at most 1, 2 … `most` bands, each with no more bands than it needs."""
    runs = _alike(sides)
    pairs = _pairs(sides, runs)
    if not pairs.low.size:
        return []
    table = _band_table(pairs, np.diff(runs).astype(np.float64), aim)
    ends = _cuts(table, aim, min(most, len(runs) - 1))
    found = [_bands(cut, table, pairs, runs) for cut in ends]
    return found + found[-1:] * (most - len(found))


def _alike(sides: Sides) -> Whole:
    """Where runs of months with the same costs begin, and the end: an edge within such a run is
    never better than one at its end, whatever the limits on either side of it."""
    both = np.hstack([sides.low, sides.high])
    changed = np.any(both[1:] != both[:-1], axis=1)
    return np.concatenate([[0], np.flatnonzero(changed) + 1, [len(both)]])


@dataclass(frozen=True)
class _Pairs:
    """A row a run, a column a pair of limits; the columns of each side behind every pair."""

    costs: Costs
    low: Whole
    high: Whole


def _pairs(sides: Sides, runs: Whole) -> _Pairs:
    low, high = sides.low[runs[:-1]], sides.high[runs[:-1]]
    lows, highs = _worth_asking(low, high, sides)
    # The tightest first, so that it is the one found among equals.
    low_at, high_at = (grid.ravel() for grid in np.meshgrid(lows[::-1], highs, indexing="ij"))
    ordered = sides.lows[low_at] < sides.highs[high_at]
    low_at, high_at = low_at[ordered], high_at[ordered]
    return _Pairs(low[:, low_at] + high[:, high_at], low_at, high_at)


def _worth_asking(low: Costs, high: Costs, sides: Sides) -> tuple[Whole, Whole]:
    """Without limits that another one beats at every month and that could always replace them:
    a looser one never meets the other side, a tighter one not while it stays clear of it."""
    lows, highs = np.arange(low.shape[1]), np.arange(high.shape[1])
    lows = lows[~_beaten(low, np.tri(len(lows), k=-1, dtype=bool))]
    highs = highs[~_beaten(high, np.tri(len(highs), k=-1, dtype=bool).T)]
    clear = sides.lows[lows] < sides.highs[highs].min()
    lows = lows[~_beaten(low[:, lows], np.broadcast_to(clear, (len(lows), len(lows))))]
    clear = sides.highs[highs] > sides.lows[lows].max()
    highs = highs[~_beaten(high[:, highs], np.broadcast_to(clear, (len(highs), len(highs))))]
    return lows, highs


def _beaten(costs: Costs, may_replace: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """`may_replace[i, j]`: limit j could stand wherever i does."""
    by_limit = costs.T
    beaten = np.zeros(len(by_limit), dtype=bool)
    for index, cost in enumerate(by_limit):
        no_worse = np.all(by_limit <= cost, axis=1) & np.any(by_limit < cost, axis=1)
        beaten[index] = bool(np.any(no_worse & may_replace[index]))
    return beaten


@dataclass(frozen=True)
class _Table:
    """Of a band from run a up to and with run b, at [a, b]: its cost, sum and best pair."""

    cost: Costs
    total: Costs
    pair: Whole


def _band_table(pairs: _Pairs, counts: Costs, aim: Aim) -> _Table:
    size = len(pairs.costs)
    weighted = pairs.costs * counts[:, None]
    sums = np.vstack([np.zeros(weighted.shape[1]), np.cumsum(weighted, axis=0)])
    cost, total = np.full((2, size, size), _ENDLESS)
    pair = np.zeros((size, size), np.intp)
    for start in range(size):
        if aim is Aim.WORST:
            ahead = np.maximum.accumulate(pairs.costs[start:], axis=0)
        else:
            ahead = sums[start + 1 :] - sums[start]
        best = np.argmin(ahead, axis=1)
        pair[start, start:] = best
        cost[start, start:] = ahead[np.arange(size - start), best]
        total[start, start:] = sums[np.arange(start + 1, size + 1), best] - sums[start, best]
    return _Table(cost, total, pair)


def _cuts(table: _Table, aim: Aim, most: int) -> list[list[int]]:
    """For 1, 2 … `most` bands where they end, in runs."""
    reached, come_from = _programme(table.cost, most, worst=aim is Aim.WORST)
    found: list[list[int]] = []
    before = (_ENDLESS, _ENDLESS)
    for count in range(1, most + 1):
        value = total = float(reached[count, -1])
        if aim is Aim.WORST:
            within = np.where(table.cost <= value + EQUAL, table.total, _ENDLESS)
            totals, come_from = _programme(within, count, worst=False)
            total = float(totals[count, -1])
        if value < before[0] - EQUAL or total < before[1] - EQUAL:
            found.append(_ends(come_from, count))
            before = (value, total)
        else:
            found.append(found[-1])  # another band buys nothing
    return found


def _programme(cost: Costs, most: int, *, worst: bool) -> tuple[Costs, Whole]:
    """[k, b]: the least that the first b runs cost in k bands, and where the last one begins."""
    size = len(cost)
    reached = np.full((most + 1, size + 1), _ENDLESS)
    reached[0, 0] = -_ENDLESS if worst else 0
    come_from = np.zeros((most + 1, size + 1), np.intp)
    for count in range(1, most + 1):
        for end in range(count, size + 1):
            before, last = reached[count - 1, :end], cost[:end, end - 1]
            choices = np.maximum(before, last) if worst else before + last
            come_from[count, end] = at = int(np.argmin(choices))
            reached[count, end] = choices[at]
    return reached, come_from


def _ends(come_from: Whole, count: int) -> list[int]:
    ends = [come_from.shape[1] - 1]
    for left in range(count, 1, -1):
        ends.append(int(come_from[left, ends[-1]]))
    return ends[::-1]


def _bands(ends: list[int], table: _Table, pairs: _Pairs, runs: Whole) -> tuple[FoundBand, ...]:
    """Neighbours with the same limits are one band."""
    found: list[FoundBand] = []
    for start, end in pairwise([0, *ends]):
        pair = table.pair[start, end - 1]
        band = FoundBand(
            int(runs[start]), int(runs[end]), int(pairs.low[pair]), int(pairs.high[pair])
        )
        last = found[-1] if found else None
        if last is not None and (last.low, last.high) == (band.low, band.high):
            found[-1] = FoundBand(last.start, band.end, band.low, band.high)
        else:
            found.append(band)
    return tuple(found)
