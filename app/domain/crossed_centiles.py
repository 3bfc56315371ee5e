"""Where a published range crosses the centiles of healthy children.

A low limit below the 1st centile says nothing of almost anybody; one above the median calls half of
the healthy too low. The same holds mirrored for a high limit.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from decimal import Decimal

from app.domain.ages import AgeSpan
from app.domain.alarm_conditions import Side
from app.domain.centiles import CentileRow, CentileTable
from app.domain.reference_ranges import fleming_2011, kipps_2017, pals_2015
from app.domain.reference_ranges.range_rows import RangeRow

_LEAST = 0.1


@dataclass(frozen=True)
class Crossing:
    """`printed` is the value of the centile that `limit` lies beyond, at `ages`."""

    row: RangeRow
    ages: AgeSpan
    side: Side
    limit: Decimal
    centile: str
    printed: float
    share: float  # of healthy children whose value lies below the limit

    @property
    def share_words(self) -> str:
        """No centile is 0 or 100: the curve beyond the printed ones is only a straight line on."""
        percent = 100 * self.share
        if percent < _LEAST:
            return f"under {_LEAST} %"
        return f"{percent:.1f} %" if percent < 100 - _LEAST else f"over {100 - _LEAST} %"

    @property
    def words(self) -> str:
        """`low limit below the 1st centile`, `high limit below the median`."""
        above = (self.side == "low") == (self.centile == "median")
        return f"{self.side} limit {'above' if above else 'below'} the {self.centile}"


def crossings(rows: Iterable[RangeRow], table: CentileTable) -> Iterator[Crossing]:
    """In the order of the rows, then of the ages; a value on the centile does not cross it. The
    row that a table prints for birth alone is left out: it is over within the day."""
    for row in rows:
        for band in table.of(row.vital_sign):
            ages = band.span.meet(row.ages)
            if ages is not None:
                yield from _at(row, band, ages)


def _at(row: RangeRow, band: CentileRow, ages: AgeSpan) -> Iterator[Crossing]:
    first, median, last = (band.values[band.centiles.index(one)] for one in (1, 50, 99))

    def crossing(side: Side, limit: Decimal, centile: str, printed: float) -> Crossing:
        share = band.curve.share_below(float(limit))
        return Crossing(row, ages, side, limit, centile, printed, share)

    if row.low is not None and row.low < first:
        yield crossing("low", row.low, "1st centile", first)
    if row.low is not None and row.low > median:
        yield crossing("low", row.low, "median", median)
    if row.high is not None and row.high > last:
        yield crossing("high", row.high, "99th centile", last)
    if row.high is not None and row.high < median:
        yield crossing("high", row.high, "median", median)


@dataclass(frozen=True)
class CrossedSource:
    name: str
    citation: str
    crossings: tuple[Crossing, ...]


def crossed_sources() -> tuple[CrossedSource, ...]:
    """Ranges of rates against Fleming 2011, which holds no other vital sign."""
    ward = kipps_2017.TABLE
    sources = (
        ("PALS normal range", pals_2015.SOURCE, pals_2015.NORMAL_RANGES),
        (
            "Limits a ward ordered before (Kipps 2017)",
            kipps_2017.SOURCE,
            [row for one in ward for row in one.ranges_before()],
        ),
        (
            "Data-driven limits of a ward (Kipps 2017)",
            kipps_2017.SOURCE,
            [row for one in ward for row in one.ranges()],
        ),
    )
    return tuple(
        CrossedSource(name, citation, tuple(crossings(rows, fleming_2011.TABLE)))
        for name, citation, rows in sources
    )
