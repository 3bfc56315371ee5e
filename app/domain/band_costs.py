"""What limits cost at every monthly age: alarm on arrival, and the silent gap of each grade.

Both are as the rules reckon them. Alarm on arrival is the mean over the days of the month of the
share of healthy people outside; the silent gap is the widest at any age of the month, in units of
the vital sign.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache
from math import ceil, erfc, floor, sqrt

import numpy as np
from numpy.typing import NDArray

from app.domain.ages import AgeSpan, months
from app.domain.alarm_conditions import AlarmCondition, Side, limits_of
from app.domain.centiles import CentileCurve, CentileTable, References
from app.domain.outer_bounds import OuterBound, OuterBounds
from app.domain.rules.arrival import rows_within
from app.domain.vital_signs import VitalSign, judged_as

Costs = NDArray[np.float64]
Rows = tuple[tuple[CentileCurve, int], ...]


@dataclass(frozen=True)
class Weights:
    """How many points (one in a hundred healthy people who alarm on arrival) a unit of silence
    costs, beyond a danger bound and beyond a caution bound. A judgement of whoever chooses."""

    danger: float = 10
    caution: float = 1


@dataclass(frozen=True)
class Ground:
    """What limits of a vital sign are held against; whatever was asked once is kept."""

    vital: VitalSign
    table: CentileTable
    named: str  # the vital sign as the table calls it
    bounds: OuterBounds

    _rows: dict[AgeSpan, Rows] = field(default_factory=dict, compare=False)
    _bounds: dict[tuple[Side, str, AgeSpan], Fraction | None] = field(
        default_factory=dict, compare=False
    )

    def rows(self, ages: AgeSpan) -> Rows:
        """Every printed curve, with how many whole days of these ages are its."""
        if ages not in self._rows:
            found = rows_within(self.table, self.named, ages)
            parts = ((row.curve, span.whole_days()) for row, span in found)
            self._rows[ages] = tuple((curve, days) for curve, days in parts if days)
        return self._rows[ages]

    def strictest(self, side: Side, grade: str, ages: AgeSpan) -> Fraction | None:
        """The outermost value, on the vital sign's step, that may go unannounced at these ages."""
        asked = (side, grade, ages)
        if asked not in self._bounds:
            self._bounds[asked] = self._strictest(side, grade, ages)
        return self._bounds[asked]

    def _strictest(self, side: Side, grade: str, ages: AgeSpan) -> Fraction | None:
        quantity, step = judged_as(self.vital.key), Fraction(self.vital.step)
        reached = [
            value
            for bound in self.bounds.of(quantity, side)
            if bound.when is None and bound.grade == grade
            for value in _ends(bound, ages)
        ]
        if not reached:
            return None
        if side == "low":
            return ceil(max(reached) / step) * step
        return floor(min(reached) / step) * step


def _ends(bound: OuterBound, ages: AgeSpan) -> list[Fraction]:
    shared = bound.span.meet(ages)
    return [] if shared is None else [bound.at(shared.start), bound.at(shared.stop)]


def ground_of(vital: VitalSign, references: References, bounds: OuterBounds) -> Ground | None:
    """None where no centiles are published."""
    table = references.table_for(vital.key)
    if table is None:
        return None
    return Ground(vital, table, references.named_in(table, vital.key), bounds)


@lru_cache(maxsize=1024)
def month(number: int) -> AgeSpan:
    """From this many months on, up to the next."""
    return AgeSpan(months(number), months(number + 1))


@dataclass(frozen=True)
class SideCosts:
    """A row a month, a column a limit; shares in points, gaps in units of the vital sign.

    `limits` is (None,), at no cost, where the side is left as it is.
    """

    alarm: AlarmCondition
    limits: tuple[Decimal | None, ...]
    arrival: Costs
    danger: Costs
    caution: Costs

    @property
    def advised(self) -> bool:
        return self.limits != (None,)

    def weighed(self, weights: Weights) -> Costs:
        return self.arrival + weights.danger * self.danger + weights.caution * self.caution


def is_judged(ground: Ground, side: Side, ages: range) -> bool:
    """Whether an outer bound stands at every month: without one the loosest limit always wins."""
    return all(
        any(ground.strictest(side, grade, month(number)) is not None for grade in _GRADES)
        for number in ages
    )


_GRADES = ("danger", "caution")


def side_costs(
    ground: Ground, side: Side, ages: range, limits: Sequence[Decimal] | None
) -> SideCosts:
    """`limits` None leaves the side out."""
    alarm = limits_of(ground.vital.key)[0 if side == "low" else 1]
    if limits is None:
        nothing = np.zeros((len(ages), 1))
        return SideCosts(alarm, (None,), nothing, nothing, nothing)
    asked = np.array([float(limit) for limit in limits])
    danger, caution = (
        np.array([_gaps(ground, side, grade, month(number), asked) for number in ages])
        for grade in _GRADES
    )
    return SideCosts(alarm, tuple(limits), _arrival(ground, side, ages, asked), danger, caution)


def _gaps(ground: Ground, side: Side, grade: str, ages: AgeSpan, limits: Costs) -> Costs:
    bound = ground.strictest(side, grade, ages)
    if bound is None:
        return np.zeros(len(limits))
    beyond = float(bound) - limits if side == "low" else limits - float(bound)
    return np.maximum(beyond, 0)


def _arrival(ground: Ground, side: Side, ages: range, limits: Costs) -> Costs:
    """Every curve is asked once."""
    told: dict[int, Costs] = {}
    points = np.zeros((len(ages), len(limits)))
    for place, number in enumerate(ages):
        parts = ground.rows(month(number))
        known = sum(count for _, count in parts)
        for curve, count in parts:
            if id(curve) not in told:
                below = shares_below(curve, limits)
                told[id(curve)] = 100 * (below if side == "low" else 1 - below)
            points[place] += told[id(curve)] * (count / known)
    return points


def shares_below(curve: CentileCurve, values: Costs) -> Costs:
    """`CentileCurve.share_below` of many values at once."""
    xs, ys, slopes = (np.array(part) for part in (curve.values, curve.scores, curve.slopes))
    at = np.clip(np.searchsorted(xs, values, side="right") - 1, 0, len(xs) - 2)
    width = xs[at + 1] - xs[at]
    t = (values - xs[at]) / width
    inside = (
        (1 + 2 * t) * (1 - t) ** 2 * ys[at]
        + t * (1 - t) ** 2 * width * slopes[at]
        + t * t * (3 - 2 * t) * ys[at + 1]
        - t * t * (1 - t) * width * slopes[at + 1]
    )
    first, last = ((ys[end + 1] - ys[end]) / (xs[end + 1] - xs[end]) for end in (0, len(xs) - 2))
    scores = np.where(values < xs[0], ys[0] + (values - xs[0]) * first, inside)
    scores = np.where(values > xs[-1], ys[-1] + (values - xs[-1]) * last, scores)
    return np.array([erfc(-score / sqrt(2)) / 2 for score in scores])
