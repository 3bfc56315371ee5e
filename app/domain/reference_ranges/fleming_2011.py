"""Heart and respiratory rate of healthy children from birth to 18 years.

Fleming S, Thompson M, Stevens R, et al. Lancet 2011;377:1011-8,
doi:10.1016/S0140-6736(10)62226-X, Web Tables 4 (respiratory rate) and 5 (heart rate).
Grade S: a secondary copy of the web tables was read. Every cell is checked in
tests/published/test_fleming_2011.py.
"""

from app.domain.ages import AgeSpan, months
from app.domain.centiles import CentileRow, CentileTable

SOURCE = "Fleming 2011, Lancet 377:1011-8, doi:10.1016/S0140-6736(10)62226-X"
GRADE = "S"
CENTILES = (1, 10, 25, 50, 75, 90, 99)


def _row(vital_sign: str, band: str, start: int, end: int, *values: int) -> CentileRow:
    span = AgeSpan(months(start), months(end))
    return CentileRow(vital_sign, band, span, CENTILES, values)


_BIRTH = _row("heart-rate", "Birth", 0, 0, 90, 107, 116, 127, 138, 148, 164)

TABLE = CentileTable(
    source=SOURCE,
    grade=GRADE,
    at_birth={"heart-rate": _BIRTH},
    rows=(
        _row("heart-rate", "0-3 mo", 0, 3, 107, 123, 133, 143, 154, 164, 181),
        _row("heart-rate", "3-6 mo", 3, 6, 104, 120, 129, 140, 150, 159, 175),
        _row("heart-rate", "6-9 mo", 6, 9, 98, 114, 123, 134, 143, 152, 168),
        _row("heart-rate", "9-12 mo", 9, 12, 93, 109, 118, 128, 137, 145, 161),
        _row("heart-rate", "12-18 mo", 12, 18, 88, 103, 112, 123, 132, 140, 156),
        _row("heart-rate", "18-24 mo", 18, 24, 82, 98, 106, 116, 126, 135, 149),
        _row("heart-rate", "2-3 y", 24, 36, 76, 92, 100, 110, 119, 128, 142),
        _row("heart-rate", "3-4 y", 36, 48, 70, 86, 94, 104, 113, 123, 136),
        _row("heart-rate", "4-6 y", 48, 72, 65, 81, 89, 98, 108, 117, 131),
        _row("heart-rate", "6-8 y", 72, 96, 59, 74, 82, 91, 101, 111, 123),
        _row("heart-rate", "8-12 y", 96, 144, 52, 67, 75, 84, 93, 103, 115),
        _row("heart-rate", "12-15 y", 144, 180, 47, 62, 69, 78, 87, 96, 108),
        _row("heart-rate", "15-18 y", 180, 216, 43, 58, 65, 73, 83, 92, 104),
        _row("respiratory-rate", "0-3 mo", 0, 3, 25, 34, 40, 43, 52, 57, 66),
        _row("respiratory-rate", "3-6 mo", 3, 6, 24, 33, 38, 41, 49, 55, 64),
        _row("respiratory-rate", "6-9 mo", 6, 9, 23, 31, 36, 39, 47, 52, 61),
        _row("respiratory-rate", "9-12 mo", 9, 12, 22, 30, 35, 37, 45, 50, 58),
        _row("respiratory-rate", "12-18 mo", 12, 18, 21, 28, 32, 35, 42, 46, 53),
        _row("respiratory-rate", "18-24 mo", 18, 24, 19, 25, 29, 31, 36, 40, 46),
        _row("respiratory-rate", "2-3 y", 24, 36, 18, 22, 25, 28, 31, 34, 38),
        _row("respiratory-rate", "3-4 y", 36, 48, 17, 21, 23, 25, 27, 29, 33),
        _row("respiratory-rate", "4-6 y", 48, 72, 17, 20, 21, 23, 25, 27, 29),
        _row("respiratory-rate", "6-8 y", 72, 96, 16, 18, 20, 21, 23, 24, 27),
        _row("respiratory-rate", "8-12 y", 96, 144, 14, 16, 18, 19, 21, 22, 25),
        _row("respiratory-rate", "12-15 y", 144, 180, 12, 15, 16, 18, 19, 21, 23),
        _row("respiratory-rate", "15-18 y", 180, 216, 11, 13, 15, 16, 18, 19, 22),
    ),
)
