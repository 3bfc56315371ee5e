"""Every cell of Fleming 2011, Lancet 377:1011-8, Web Tables 4 and 5, typed here a second time.

Grade S: from a secondary copy of the web tables, doi:10.1016/S0140-6736(10)62226-X.
"""

import pytest
from scipy.interpolate import PchipInterpolator
from scipy.stats import norm

from app.domain.ages import BIRTH, months
from app.domain.reference_ranges.fleming_2011 import CENTILES, TABLE

# Months from, months to: 1st, 10th, 25th, 50th, 75th, 90th, 99th centile.
RESPIRATORY_RATE = """
0 3      25 34 40 43 52 57 66
3 6      24 33 38 41 49 55 64
6 9      23 31 36 39 47 52 61
9 12     22 30 35 37 45 50 58
12 18    21 28 32 35 42 46 53
18 24    19 25 29 31 36 40 46
24 36    18 22 25 28 31 34 38
36 48    17 21 23 25 27 29 33
48 72    17 20 21 23 25 27 29
72 96    16 18 20 21 23 24 27
96 144   14 16 18 19 21 22 25
144 180  12 15 16 18 19 21 23
180 216  11 13 15 16 18 19 22
"""
HEART_RATE = """
0 3      107 123 133 143 154 164 181
3 6      104 120 129 140 150 159 175
6 9      98 114 123 134 143 152 168
9 12     93 109 118 128 137 145 161
12 18    88 103 112 123 132 140 156
18 24    82 98 106 116 126 135 149
24 36    76 92 100 110 119 128 142
36 48    70 86 94 104 113 123 136
48 72    65 81 89 98 108 117 131
72 96    59 74 82 91 101 111 123
96 144   52 67 75 84 93 103 115
144 180  47 62 69 78 87 96 108
180 216  43 58 65 73 83 92 104
"""
HEART_RATE_AT_BIRTH: tuple[float, ...] = (90, 107, 116, 127, 138, 148, 164)


def _rows() -> list[tuple[str, int, int, tuple[int, ...]]]:
    found = []
    for vital_sign, printed in (
        ("respiratory-rate", RESPIRATORY_RATE),
        ("heart-rate", HEART_RATE),
    ):
        for line in printed.strip().splitlines():
            start, end, *values = map(int, line.split())
            found.append((vital_sign, start, end, tuple(values)))
    return found


@pytest.mark.parametrize(("vital_sign", "start", "end", "values"), _rows())
def test_every_printed_cell(vital_sign: str, start: int, end: int, values: tuple[int, ...]) -> None:
    row = TABLE.at(vital_sign, months(start) if start else months(1))
    assert row is not None

    assert (row.span.start, row.span.end) == (months(start), months(end))
    assert row.values == values
    for centile, value in zip(CENTILES, values, strict=True):
        assert row.curve.share_below(value) * 100 == pytest.approx(centile)
        assert row.curve.value_at(centile) == pytest.approx(value)


def test_the_table_holds_no_row_more() -> None:
    assert len(TABLE.rows) == len(_rows())


def test_birth_has_its_own_heart_rates_and_ends_at_once() -> None:
    at_birth, later = TABLE.at("heart-rate", BIRTH), TABLE.at("heart-rate", months(1))

    assert at_birth is not None
    assert later is not None
    assert at_birth.values == HEART_RATE_AT_BIRTH
    assert later.values[0] == 107


def test_nothing_is_printed_from_eighteen_years_on() -> None:
    assert TABLE.at("heart-rate", months(216)) is None


@pytest.mark.parametrize("row", TABLE.rows, ids=lambda row: f"{row.vital_sign} {row.band}")
def test_the_curve_is_scipys_monotone_cubic_in_normal_score(row: object) -> None:
    assert hasattr(row, "curve")
    curve = row.curve
    scores = norm.ppf([centile / 100 for centile in CENTILES])
    outside = PchipInterpolator(curve.values, scores)

    span = curve.values[-1] - curve.values[0]
    for part in range(51):
        value = curve.values[0] + span * part / 50
        assert curve.score(value) == pytest.approx(float(outside(value)), abs=1e-12)
