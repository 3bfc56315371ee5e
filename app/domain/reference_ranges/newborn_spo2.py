"""Target oxygen saturation in the first minutes of life, measured before the ductus.

AHA/AAP Neonatal Resuscitation Program 2015, unchanged 2020: two copies read (grade S). The
European values are from memory (grade M). Checked in tests/published/test_ranges.py.
"""

from dataclasses import dataclass

SOURCE = "AHA/AAP Neonatal Resuscitation Program, 2015 (unchanged 2020)"
GRADE = "S"


@dataclass(frozen=True)
class MinuteRow:
    """Percent; `high` None where the source gives a least value only."""

    minute: int
    low: int
    high: int | None


TABLE = (
    MinuteRow(1, 60, 65),
    MinuteRow(2, 65, 70),
    MinuteRow(3, 70, 75),
    MinuteRow(4, 75, 80),
    MinuteRow(5, 80, 85),
    MinuteRow(10, 85, 95),
)
EUROPEAN_SOURCE = "European Resuscitation Council guidelines 2021, from memory"
EUROPEAN = (MinuteRow(2, 65, None), MinuteRow(5, 85, None), MinuteRow(10, 90, None))
