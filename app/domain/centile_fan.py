"""Published centiles as a fan along the age axis, smoothed across the printed bands.

For the eye only: every rule and every share told in words uses the bands as printed.
"""

from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

from app.domain.age_axis import x_of
from app.domain.ages import Age
from app.domain.centiles import CentileRow, References

CENTILES = (1.0, 10.0, 25.0, 50.0, 75.0, 90.0, 99.0)
_PIECES = 6  # straight pieces between two printed bands: enough to look round
_Values = tuple[float, ...]


@dataclass(frozen=True)
class CentileFan:
    """`values[i]` are the values of CENTILES at `xs[i]`; x from 0 (birth) to 1 (100 years)."""

    source: str
    xs: tuple[float, ...]
    values: tuple[_Values, ...]

    def at(self, x: float) -> _Values:
        """Straight between two stops; x must lie within the fan."""
        right = min(max(bisect_right(self.xs, x), 1), len(self.xs) - 1)
        before, after = self.xs[right - 1], self.xs[right]
        share = (x - before) / (after - before)
        pairs = zip(self.values[right - 1], self.values[right], strict=True)
        return tuple(low + share * (high - low) for low, high in pairs)

    def between(self, start: float, end: float) -> list[tuple[float, _Values]]:
        """The stops from start to end, both included where the fan reaches them."""
        start, end = max(start, self.xs[0]), min(end, self.xs[-1])
        if end <= start:
            return []
        inner = [x for x in self.xs if start < x < end]
        return [(x, self.at(x)) for x in (start, *inner, end)]


def fan_of(references: References, vital_sign: str) -> CentileFan | None:
    """None where nothing is published that we hold."""
    table = references.table_for(vital_sign)
    if table is None:
        return None
    name = references.named_in(table, vital_sign)
    rows = tuple(table.of(name))
    return _through(table.source, table.at_birth.get(name, rows[0]), rows)


@lru_cache(maxsize=64)
def _through(source: str, first: CentileRow, rows: tuple[CentileRow, ...]) -> CentileFan:
    """Kept: a table never changes, and its fan is drawn anew after every edit of a draft."""
    knots = _knots(first, rows)
    slopes = _slopes(knots)
    stops = [knots[0]]
    for (left, right), inclines in zip(pairwise(knots), pairwise(slopes), strict=True):
        stops += _eased(left, right, inclines)
    xs, values = zip(*stops, strict=True)
    return CentileFan(source, xs, values)


_Knot = tuple[float, _Values]


def _knots(first: CentileRow, rows: tuple[CentileRow, ...]) -> list[_Knot]:
    """One in the middle of each band, one at either end; `first` tells of birth itself."""
    last = rows[-1]
    start, end = x_of(rows[0].span.start), x_of(last.span.stop)
    middles = [(x_of(_middle(row)), _printed(row)) for row in rows]
    return [(start, _printed(first)), *middles, (end, _printed(last))]


def _middle(row: CentileRow) -> Age:
    return Age((row.span.start.days + row.span.stop.days) / 2)


def _printed(row: CentileRow) -> _Values:
    """As printed; a centile that is not printed comes from the row's curve."""
    printed = dict(zip(row.centiles, row.values, strict=True))
    return tuple(
        float(printed[centile]) if centile in printed else row.curve.value_at(centile)
        for centile in CENTILES
    )


def _slopes(knots: list[_Knot]) -> list[_Values]:
    inner = [
        tuple((b - a) / (right - left) for a, b in zip(low, high, strict=True))
        for (left, low), (right, high) in zip(knots, knots[2:], strict=False)
    ]
    flat = (0.0,) * len(CENTILES)
    return [flat, *inner, flat]


def _eased(left: _Knot, right: _Knot, slopes: tuple[_Values, _Values]) -> Iterator[_Knot]:
    """Cubic Hermite from just after the left knot up to the right one."""
    (x0, low), (x1, high) = left, right
    width = x1 - x0
    for piece in range(1, _PIECES + 1):
        t = piece / _PIECES
        a, b = (1 + 2 * t) * (1 - t) ** 2, t * t * (3 - 2 * t)
        c, d = t * (1 - t) ** 2 * width, t * t * (t - 1) * width
        values = zip(low, high, *slopes, strict=True)
        yield x0 + t * width, tuple(a * p + b * q + c * m + d * n for p, q, m, n in values)
