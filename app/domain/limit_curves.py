"""Noise and silence of one line at every limit at once, for one delay.

For a high line, m(t) is the least of the last D + 1 samples up to t: the line sounds at t at every
limit below m(t), and nowhere else. A low line is its mirror image.

Noise: samples with m(t) > L are in alarm; patients whose largest m(t) exceeds L had one.
Silence: a sample beyond an outer bound is silent at L if m(t) <= L and no other alarm that guards
the same danger sounds at it. An episode (a maximal run of samples beyond the bound) is silent if
nothing sounds at any of its samples; a patient, if one of the episodes is.
"""

from dataclasses import dataclass

import numpy as np

from app.domain.alarm_conditions import Side
from app.domain.alarm_curve import MISSING, Steps, sliding_minimum
from app.domain.trends import Flags, Whole


@dataclass(frozen=True)
class Silence:
    """By limit: samples, episodes and patients beyond a bound that no alarm announced."""

    samples: Whole
    episodes: Whole
    patients: Whole


@dataclass(frozen=True)
class Beyond:
    """All that lies beyond a bound, whatever sounds."""

    samples: int
    episodes: int
    patients: int


@dataclass(frozen=True)
class Watched:
    """One vital sign of one recording; `values` mirrored where low lines are asked about."""

    values: Steps
    starts: Flags
    patient: Whole
    side: Side

    @classmethod
    def of(cls, values: Steps, starts: Flags, patient: Whole, side: Side) -> "Watched":
        # MISSING is its own mirror image.
        return cls(values if side == "high" else np.negative(values), starts, patient, side)

    def asked(self, limits: Whole) -> Whole:
        return limits if self.side == "high" else -limits

    def beyond(self, bound: float) -> Flags:
        """`bound` in steps."""
        edge = bound if self.side == "high" else -bound
        found: Flags = (self.values > edge) & (self.values != MISSING)
        return found


def reached(watched: Watched, delay: int) -> Steps:
    """m(t) for a delay in samples; MISSING where a gap or a jump lies among them."""
    values = watched.values
    if delay >= values.size:
        return np.full(values.size, MISSING, dtype=np.int16)
    least = sliding_minimum(values, delay + 1)
    row = np.arange(values.size, dtype=np.int32)
    begun = np.maximum.accumulate(np.where(watched.starts, row, 0))
    found = np.concatenate([np.full(delay, MISSING, dtype=np.int16), least])
    return np.where(row - begun < delay, np.int16(MISSING), found)


def patients_alarmed(watched: Watched, m: Steps, limits: Whole) -> Whole:
    """How many patients had an alarm, by limit."""
    first = np.flatnonzero(np.diff(watched.patient, prepend=-1))
    furthest = np.sort(np.maximum.reduceat(m, first))
    found: Whole = furthest.size - np.searchsorted(furthest, watched.asked(limits), side="right")
    return found


def all_beyond(watched: Watched, danger: Flags) -> Beyond:
    rows, first = _episodes(watched, danger)
    return Beyond(
        int(rows.size), int(first.size), int(np.unique(watched.patient[rows[first]]).size)
    )


def silence(watched: Watched, m: Steps, danger: Flags, covered: Flags, limits: Whole) -> Silence:
    """`covered`: where another alarm that guards the same danger sounds."""
    asked = watched.asked(limits)
    rows, first = _episodes(watched, danger)
    if not rows.size:
        nothing = np.zeros(limits.size, dtype=np.int64)
        return Silence(nothing, nothing, nothing)
    uncovered = m[rows][~covered[rows]]
    unheard = ~np.logical_or.reduceat(covered[rows], first)
    furthest = np.maximum.reduceat(m[rows], first)[unheard]
    who = watched.patient[rows[first]][unheard]
    return Silence(
        _at_or_below(uncovered, asked),
        _at_or_below(furthest, asked),
        _at_or_below(_least_of_each(who, furthest), asked),
    )


def _episodes(watched: Watched, danger: Flags) -> tuple[Whole, Whole]:
    """(rows beyond the bound, places among them at which an episode begins)."""
    rows = np.flatnonzero(danger)
    begins = watched.starts[rows]
    begins[1:] |= np.diff(rows) > 1
    if rows.size:
        begins[0] = True
    return rows, np.flatnonzero(begins)


def _least_of_each(who: Whole, values: Steps) -> Steps:
    order = np.argsort(who, kind="stable")
    first = np.flatnonzero(np.diff(who[order], prepend=-1))
    return np.minimum.reduceat(values[order], first) if first.size else values


def _at_or_below(values: Steps, asked: Whole) -> Whole:
    found: Whole = np.searchsorted(np.sort(values), asked, side="right")
    return found
