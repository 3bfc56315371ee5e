"""Blood pressure from which a child needs further evaluation: the simplified screening table.

Flynn JT et al. Pediatrics 2017;140(3):e20171904, doi:10.1542/peds.2017-1904, Table 6.
Grade P: the primary text was read. Checked in tests/published/test_ranges.py.
"""

from dataclasses import dataclass

from app.domain.ages import AgeSpan, years

SOURCE = "Flynn 2017, Pediatrics 140(3):e20171904, doi:10.1542/peds.2017-1904, Table 6"
GRADE = "P"


@dataclass(frozen=True)
class ScreeningRow:
    """Systolic and diastolic pressure in mmHg."""

    ages: AgeSpan
    boys: tuple[int, int]
    girls: tuple[int, int]


def _row(age: int, boys: tuple[int, int], girls: tuple[int, int]) -> ScreeningRow:
    return ScreeningRow(AgeSpan(years(age), years(age + 1) if age < 13 else None), boys, girls)


TABLE = (
    _row(1, (98, 52), (98, 54)),
    _row(2, (100, 55), (101, 58)),
    _row(3, (101, 58), (102, 60)),
    _row(4, (102, 60), (103, 62)),
    _row(5, (103, 63), (104, 64)),
    _row(6, (105, 66), (105, 67)),
    _row(7, (106, 68), (106, 68)),
    _row(8, (107, 69), (107, 69)),
    _row(9, (107, 70), (108, 71)),
    _row(10, (108, 72), (109, 72)),
    _row(11, (110, 74), (111, 74)),
    _row(12, (113, 75), (114, 75)),
    _row(13, (120, 80), (120, 80)),
)
