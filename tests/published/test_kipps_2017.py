"""A ward's data-driven limits against healthy children.

Kipps AK et al. 2017, Pediatrics 140(2):e20162458: the table of parameters, typed here a second
time, and the direction that its abstract reports: with the new limits fewer alarms a bed and day
(heart rate 9 → 7.5, respiratory rate 16.8 → 8.0, medians).
"""

from collections.abc import Iterator
from itertools import chain

import pytest

from app.domain.centiles import CentileRow
from app.domain.reference_ranges import fleming_2011, kipps_2017
from app.domain.reference_ranges.kipps_2017 import TABLE, WardLimits
from app.domain.reference_ranges.range_rows import RangeRow

# Months from and to; heart rate before, data-driven; respiratory rate before, data-driven, revised.
PRINTED = """
0 1      80 160  115 170  30 60  30 60  10 60
1 6      80 160  105 170  24 38  20 55  10 55
6 12     80 150  100 165  20 35  20 45  10 50
12 24    80 150   90 165  20 35  20 45  10 50
24 36    80 140   85 155  22 30  18 40  10 50
36 60    60 110   75 155  20 24  16 35  10 50
60 108   60 110   70 140  16 25  16 30  10 50
108 144  60 110   65 130  16 22  14 30  10 50
144 180  50 110   60 125  12 18  14 30  10 50
180 216  50 110   60 115  12 18  13 25  10 50
"""


def _breaths(row: WardLimits) -> tuple[tuple[int, int], ...]:
    return row.breath_before, row.breath, row.breath_revised


def test_every_printed_cell() -> None:
    held = [list(chain(row.ages, row.heart_before, row.heart, *_breaths(row))) for row in TABLE]

    assert held == [[int(cell) for cell in line.split()] for line in PRINTED.strip().splitlines()]


def compared(vital_sign: str, *, before: bool = False) -> Iterator[tuple[RangeRow, CentileRow]]:
    """Each row with every band of healthy children that it shares ages with."""
    for ward in TABLE:
        for row in ward.ranges_before() if before else ward.ranges():
            for band in fleming_2011.TABLE.of(vital_sign):
                if row.vital_sign == vital_sign and band.span.meet(row.ages):
                    yield row, band


def shares(vital_sign: str, *, before: bool = False) -> list[tuple[str, str, float, float]]:
    """Group, band, and the centiles at which its low and high limit lie."""
    return [
        (
            row.group,
            band.band,
            100 * band.curve.share_below(float(row.low or 0)),
            100 * band.curve.share_below(float(row.high or 0)),
        )
        for row, band in compared(vital_sign, before=before)
    ]


def test_heart_rate_limits_lie_where_healthy_children_seldom_are() -> None:
    """The ward's 5th and 95th centile are of children in hospital, whose hearts beat faster: its
    high limit lies at or beyond the 95th centile of healthy children at every age, its low limit
    below the 15th."""
    found = shares("heart-rate")

    assert all(low < 15 for *_, low, _ in found)
    assert all(round(high, 1) >= 95 for *_, high in found)
    assert max(low for *_, low, _ in found) == pytest.approx(14.5, abs=0.1)  # 70 at 8 years


def test_from_nine_months_on_the_high_heart_rate_lies_beyond_the_99th_centile() -> None:
    beyond = [(group, band) for group, band, _, high in shares("heart-rate") if high > 99]
    within = [(group, band) for group, band, _, high in shares("heart-rate") if high <= 99]

    assert within == [
        ("<1 mo", "0-3 mo"),
        ("1-6 mo", "0-3 mo"),
        ("1-6 mo", "3-6 mo"),
        ("6-12 mo", "6-9 mo"),
    ]
    assert beyond[0] == ("6-12 mo", "9-12 mo")


def test_no_data_driven_limit_crosses_the_median_and_some_of_those_before_did() -> None:
    crossed = [
        (group, band)
        for group, band, low, high in shares("respiratory-rate", before=True)
        if high < 49.99 or low > 50.01
    ]

    assert crossed == [
        ("1-6 mo", "0-3 mo"),
        ("1-6 mo", "3-6 mo"),
        ("6-12 mo", "6-9 mo"),
        ("6-12 mo", "9-12 mo"),
        ("3-5 y", "3-4 y"),
    ]
    for sign in ("heart-rate", "respiratory-rate"):
        assert all(low < 50 < high for *_, low, high in shares(sign))


@pytest.mark.parametrize("row", TABLE, ids=lambda row: row.group)
def test_no_high_limit_was_lowered_as_the_fewer_alarms_ask_for(row: WardLimits) -> None:
    assert row.heart[1] > row.heart_before[1]
    assert row.breath[1] >= row.breath_before[1]
    assert row.breath_revised[0] < row.breath[0]


def test_the_low_heart_rate_was_raised_at_every_age() -> None:
    """The one direction in which the data asked for more alarms."""
    assert all(row.heart[0] > row.heart_before[0] for row in TABLE)


def test_the_source_is_named() -> None:
    assert "Pediatrics 140(2)" in kipps_2017.SOURCE
