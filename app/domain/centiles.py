"""Published centiles as a curve: value → centile and back.

Between printed centiles the normal score runs monotonically through them (PCHIP, Fritsch and
Butland 1984); outside it is the straight line through the last two, marked extrapolated.
Within an age band the values are as printed.
"""

from bisect import bisect_right
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from itertools import pairwise
from statistics import NormalDist

from app.domain.ages import BIRTH, Age, AgeSpan
from app.domain.vital_signs import judged_as

_NORMAL = NormalDist()


@dataclass(frozen=True)
class CentileRow:
    """Printed values of one vital sign in one age band; centiles in percent, both rising."""

    vital_sign: str
    band: str
    span: AgeSpan
    centiles: tuple[float, ...]
    values: tuple[float, ...]

    @cached_property
    def curve(self) -> "CentileCurve":
        return CentileCurve.through(self.centiles, self.values)


@dataclass(frozen=True)
class CentileTable:
    """`at_birth` holds rows for the age of 0 days exactly, where a source prints one."""

    source: str
    grade: str
    rows: tuple[CentileRow, ...]
    at_birth: Mapping[str, CentileRow] = field(default_factory=dict)

    def __hash__(self) -> int:
        """Quick, for tables are asked about thousands of times; equal ones still share it."""
        return hash((self.source, len(self.rows)))

    @cached_property
    def vital_signs(self) -> frozenset[str]:
        return frozenset(row.vital_sign for row in self.rows)

    def of(self, vital_sign: str) -> list[CentileRow]:
        return [row for row in self.rows if row.vital_sign == vital_sign]

    def at(self, vital_sign: str, age: Age) -> CentileRow | None:
        if age == BIRTH and vital_sign in self.at_birth:
            return self.at_birth[vital_sign]
        return next((row for row in self.of(vital_sign) if age in row.span), None)


@dataclass(frozen=True)
class References:
    """Tables in order: the first that holds a vital sign speaks for it alone."""

    tables: tuple[CentileTable, ...]

    def table_for(self, vital_sign: str) -> CentileTable | None:
        """The sign's own table, else that of the sign which it repeats by another sensor."""
        for name in (vital_sign, judged_as(vital_sign)):
            for table in self.tables:
                if name in table.vital_signs:
                    return table
        return None

    def named_in(self, table: CentileTable, vital_sign: str) -> str:
        return vital_sign if vital_sign in table.vital_signs else judged_as(vital_sign)


@dataclass(frozen=True)
class CentileCurve:
    """Knots (value, normal score) strictly rising in both, with the slope at each."""

    values: tuple[float, ...]
    scores: tuple[float, ...]
    slopes: tuple[float, ...]

    @classmethod
    def through(cls, centiles: tuple[float, ...], values: tuple[float, ...]) -> "CentileCurve":
        """Equal neighbouring values become one knot at their mean score; ValueError below two."""
        scores = [_NORMAL.inv_cdf(centile / 100) for centile in centiles]
        knots: dict[float, list[float]] = {}
        for value, score in zip(values, scores, strict=True):
            knots.setdefault(float(value), []).append(score)
        xs = tuple(knots)
        if len(xs) < 2 or list(xs) != sorted(xs):
            raise ValueError("centiles need at least two different, rising values")
        ys = tuple(sum(tied) / len(tied) for tied in knots.values())
        return cls(xs, ys, _pchip_slopes(xs, ys))

    def share_below(self, value: float) -> float:
        """Share of healthy people whose value lies below, 0 to 1."""
        return _NORMAL.cdf(self.score(value))

    def extrapolated(self, value: float) -> bool:
        return not self.values[0] <= value <= self.values[-1]

    def score(self, value: float) -> float:
        if self.extrapolated(value):
            end = 0 if value < self.values[0] else -1
            return self.scores[end] + (value - self.values[end]) * self._end_slope(end)
        index = min(bisect_right(self.values, value), len(self.values) - 1) - 1
        return self._cubic(index, value)

    def value_at(self, centile: float) -> float:
        """The value at a centile in percent, between 0 and 100 exclusive."""
        score = _NORMAL.inv_cdf(centile / 100)
        for end, outside in ((0, score < self.scores[0]), (-1, score > self.scores[-1])):
            if outside:
                return self.values[end] + (score - self.scores[end]) / self._end_slope(end)
        index = min(bisect_right(self.scores, score), len(self.scores) - 1) - 1
        return self._bisected(index, score)

    def _bisected(self, index: int, score: float) -> float:
        low, high = self.values[index], self.values[index + 1]
        for _ in range(60):
            middle = (low + high) / 2
            low, high = (low, middle) if self._cubic(index, middle) > score else (middle, high)
        return (low + high) / 2

    def _end_slope(self, end: int) -> float:
        first, second = (0, 1) if end == 0 else (-2, -1)
        rise = self.scores[second] - self.scores[first]
        return rise / (self.values[second] - self.values[first])

    def _cubic(self, index: int, value: float) -> float:
        """Cubic Hermite between two knots."""
        left, right = self.values[index], self.values[index + 1]
        width = right - left
        t = (value - left) / width
        return (
            (1 + 2 * t) * (1 - t) ** 2 * self.scores[index]
            + t * (1 - t) ** 2 * width * self.slopes[index]
            + t * t * (3 - 2 * t) * self.scores[index + 1]
            - t * t * (1 - t) * width * self.slopes[index + 1]
        )


def _pchip_slopes(xs: tuple[float, ...], ys: tuple[float, ...]) -> tuple[float, ...]:
    widths = [b - a for a, b in pairwise(xs)]
    rises = [(b - a) / w for (a, b), w in zip(pairwise(ys), widths, strict=True)]
    if len(rises) == 1:
        return (rises[0], rises[0])
    inner = [
        _harmonic(*sides, *slopes)
        for sides, slopes in zip(pairwise(widths), pairwise(rises), strict=True)
    ]
    first = _one_sided(widths[0], widths[1], rises[0], rises[1])
    last = _one_sided(widths[-1], widths[-2], rises[-1], rises[-2])
    return (first, *inner, last)


def _harmonic(w0: float, w1: float, r0: float, r1: float) -> float:
    """Weighted harmonic mean of the neighbouring rises; both are above zero here."""
    a, b = 2 * w1 + w0, w1 + 2 * w0
    return (a + b) / (a / r0 + b / r1)


def _one_sided(w0: float, w1: float, r0: float, r1: float) -> float:
    """Three-point end slope, kept between zero and three times the end rise."""
    slope = ((2 * w0 + w1) * r0 - w0 * r1) / (w0 + w1)
    return min(max(slope, 0.0), 3 * r0)
