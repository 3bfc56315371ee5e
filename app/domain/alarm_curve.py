"""The alarm load at every limit of one side at once, in one pass over the recording.

A high alarm with a delay of D samples sounds at a sample if the last D + 1 samples all lie above
the limit, that is, if their minimum does. One count of these minima therefore holds the time in
alarm at every limit. If the delay were one sample longer, every alarm would lose exactly one
sample; so the number of alarms is the time in alarm at D less the time in alarm at D + 1.

A looser limit can raise the count, because a long episode breaks up: a count never stands
without its time in alarm.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from app.domain.alarm_conditions import Side

Steps = NDArray[np.int16]
Whole = NDArray[np.int64]

MISSING = np.iinfo(np.int16).min
"""Lies below every limit, so it never sounds; it is also its own mirror image in 16 bits."""
_FURTHEST = 32_000
BLOCK = 1 << 17  # samples at a time: small enough to stay in the processor's cache


@dataclass(frozen=True)
class Curve:
    """Alarms, and samples in alarm, at each limit asked for."""

    counts: Whole
    samples_in_alarm: Whole


def in_steps(values: NDArray[np.float64], step: float) -> Steps:
    """Values in whole steps of the vital sign, NaN as MISSING; far ones as the furthest."""
    found = np.empty(values.size, np.int16)
    for first in range(0, values.size, BLOCK):
        rows = slice(first, first + BLOCK)
        steps = np.clip(np.rint(values[rows] / step), -_FURTHEST, _FURTHEST)
        found[rows] = np.where(np.isnan(steps), MISSING, steps)
    return found


def alarm_curve(
    values: Steps, starts: Whole, side: Side, delay: int, limits: Whole, block: int = BLOCK
) -> Curve:
    """`values` and `limits` in steps; `starts` are the rows, ascending, that do not follow the
    row before them without a jump; `delay` in samples, 0 or more."""
    if delay < 0 or (limits.size and np.abs(limits).max() >= _FURTHEST):
        raise ValueError(f"the delay is negative, or a limit is {_FURTHEST} steps or more")
    if not limits.size:
        return Curve(np.zeros(0, np.int64), np.zeros(0, np.int64))
    asked = limits if side == "high" else -limits  # low is the mirror image of high
    lowest, highest = int(asked.min()), int(asked.max())
    now, longer = np.zeros((2, highest - lowest + 2), np.int64)
    for piece, skip in _pieces(values, starts, delay, block):
        least = sliding_minimum(piece if side == "high" else np.negative(piece), delay + 1)
        wider = np.minimum(least[1:], least[:-1])
        now += histogram(least[skip - delay :], lowest, highest)
        longer += histogram(wider[skip - delay - 1 :], lowest, highest)
    above = [_above(bins)[asked - lowest] for bins in (now, longer)]
    return Curve(above[0] - above[1], above[0])


def _pieces(values: Steps, starts: Whole, delay: int, block: int) -> Iterator[tuple[Steps, int]]:
    """(samples, index of the first new one): each piece repeats what its windows look back on.

    A jump is told to the windows as one missing sample put in before it.
    """
    look_back = delay + 1
    size = max(block, 4 * look_back)
    for first in range(0, values.size, size):
        left = max(0, first - look_back)
        piece = values[left : first + size]
        jumps = starts[slice(*np.searchsorted(starts, (left + 1, first + size)))] - left
        skip = first - left
        if jumps.size:
            piece = np.insert(piece, jumps, MISSING)
            skip += int(np.searchsorted(jumps, skip, side="right"))
        if first < look_back:
            piece = np.concatenate([np.full(look_back, MISSING, np.int16), piece])
            skip += look_back
        yield piece, skip


def sliding_minimum(values: Steps, width: int) -> Steps:
    """Minimum of every `width` samples in a row, by windows that double."""
    reached = 1
    while reached < width:
        shift = min(reached, width - reached)
        values = np.minimum(values[shift:], values[:-shift])
        reached += shift
    return values


def histogram(values: Steps, lowest: int, highest: int) -> Whole:
    """How many lie at or below `lowest`, at each step up to `highest`, and above it."""
    bins = np.clip(values, lowest, highest + 1).astype(np.intp)
    bins -= lowest
    counted: Whole = np.bincount(bins, minlength=highest - lowest + 2)
    return counted


def _above(bins: Whole) -> Whole:
    """How many values lie strictly above each step."""
    above: Whole = bins.sum() - np.cumsum(bins)
    return above
