"""Figures about the work on findings and devices, each with what it was counted from."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from fractions import Fraction
from itertools import pairwise
from statistics import median

from app.domain.intervals import Interval, hypergeometric_bounds, wilson


@dataclass(frozen=True)
class Share:
    """`found` of `of`, with 95 % confidence. `interval` None: nothing was counted."""

    found: int
    of: int
    interval: Interval | None

    @property
    def percent(self) -> float | None:
        return None if not self.of else 100 * self.found / self.of


def share(found: int, of: int) -> Share:
    """Of cases that stand for others like them."""
    return Share(found, of, wilson(found, of) if of else None)


def share_of_fleet(found: int, read: int, fleet: int) -> Share:
    """Of devices of a fleet whose size is known; all read is a count, and its interval a point."""
    return Share(found, read, hypergeometric_bounds(found, read, fleet) if read else None)


@dataclass(frozen=True)
class Waiting:
    """How long something took, from `started`; `ended` None: it is going on, or was given up at
    `left` for another reason."""

    started: datetime
    ended: datetime | None
    left: datetime | None = None


@dataclass(frozen=True)
class Times:
    """Over `count` cases, of which `done` ended. None: too few ended to say.

    By Kaplan and Meier (J Am Stat Assoc 1958;53:457-81): what is still open counts as at least so
    long, so that a case nobody finishes cannot make the figure look better.
    """

    count: int
    done: int
    middle: timedelta | None
    ninetieth: timedelta | None


def times(cases: Iterable[Waiting], *, now: datetime) -> Times:
    lasted = [
        ((one.ended or one.left or now) - one.started, one.ended is not None) for one in cases
    ]
    curve = _still_open(lasted)
    done = sum(ended for _, ended in lasted)
    return Times(len(lasted), done, _when(curve, Fraction(1, 2)), _when(curve, Fraction(1, 10)))


def _still_open(lasted: Sequence[tuple[timedelta, bool]]) -> list[tuple[timedelta, Fraction]]:
    """Exact: the share of cases still open right after each time at which one ended."""
    left, share_open = len(lasted), Fraction(1)
    curve = []
    for time in sorted({time for time, _ in lasted}):
        here = [ended for other, ended in lasted if other == time]
        if ended := sum(here):
            share_open *= Fraction(left - ended, left)
            curve.append((time, share_open))
        left -= len(here)
    return curve


def _when(curve: Sequence[tuple[timedelta, Fraction]], at_most: Fraction) -> timedelta | None:
    return next((time for time, still in curve if still <= at_most), None)


FEWEST_POINTS = 10
SHIFT = 6
TREND = 5


@dataclass(frozen=True)
class Point:
    label: str
    found: int
    of: int

    @property
    def share(self) -> float | None:
        return None if not self.of else self.found / self.of


@dataclass(frozen=True)
class RunChart:
    """`middle`: the median of what was measured. `signals` say in words what is not chance."""

    points: tuple[Point, ...]
    middle: float | None
    signals: tuple[str, ...]


def run_chart(points: Sequence[Point]) -> RunChart:
    """Rules for shift and trend of Perla, Provost and Murray (BMJ Qual Saf 2011;20:46-51).

    A shift is six or more points in a row on one side of the median, points on it left out; a
    trend five or more that all rise or all fall, equal ones left out. Below ten points of which
    anything was measured nothing is signalled.
    """
    measured = [point for point in points if point.share is not None]
    shares = [point.share for point in measured if point.share is not None]
    if not shares:
        return RunChart(tuple(points), None, ())
    middle = median(shares)
    signals: list[str] = []
    if len(shares) >= FEWEST_POINTS:
        signals = [*_shifts(shares, measured, middle), *_trends(shares, measured)]
    return RunChart(tuple(points), middle, tuple(signals))


def _shifts(shares: Sequence[float], points: Sequence[Point], middle: float) -> Iterable[str]:
    sides = [
        (value > middle, point.label)
        for value, point in zip(shares, points, strict=True)
        if value != middle
    ]
    for is_above, labels in _runs(sides):
        if len(labels) >= SHIFT:
            side = "above" if is_above else "below"
            yield f"{len(labels)} in a row {side} the median, {labels[0]} to {labels[-1]}: a shift"


def _trends(shares: Sequence[float], points: Sequence[Point]) -> Iterable[str]:
    changed = [(value, point.label) for value, point in zip(shares, points, strict=True)]
    distinct = [one for n, one in enumerate(changed) if n == 0 or one[0] != changed[n - 1][0]]
    steps = [(value > before, label) for (before, _), (value, label) in pairwise(distinct)]
    for is_rising, labels in _runs(steps):
        if len(labels) >= TREND - 1:  # four steps join five points
            way = "rising" if is_rising else "falling"
            yield f"{len(labels) + 1} in a row {way} up to {labels[-1]}: a trend"


def _runs(marked: Sequence[tuple[bool, str]]) -> Iterable[tuple[bool, list[str]]]:
    run: list[str] = []
    mark = False
    for one, label in marked:
        if run and one == mark:
            run.append(label)
            continue
        if run:
            yield mark, run
        mark, run = one, [label]
    if run:
        yield mark, run
