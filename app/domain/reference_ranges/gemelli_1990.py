"""Blood pressure and heart rate in the first year: means and standard deviations.

Gemelli M et al. Eur J Pediatr 1990;149:318-20, doi:10.1007/BF02171556. Grade S: a secondary
copy of the table was read. Checked in tests/published/test_ranges.py.
"""

from dataclasses import dataclass

SOURCE = "Gemelli 1990, Eur J Pediatr 149:318-20, doi:10.1007/BF02171556"
GRADE = "S"


@dataclass(frozen=True)
class InfantRow:
    """(mean, standard deviation) in mmHg and beats a minute."""

    sex: str
    months: int
    systolic: tuple[int, int]
    diastolic: tuple[int, int]
    heart_rate: tuple[int, int]


TABLE = (
    InfantRow("female", 1, (82, 9), (46, 10), (146, 15)),
    InfantRow("female", 3, (89, 11), (54, 10), (144, 13)),
    InfantRow("female", 6, (92, 10), (56, 10), (136, 13)),
    InfantRow("female", 9, (94, 10), (57, 8), (127, 13)),
    InfantRow("male", 1, (84, 10), (46, 9), (150, 16)),
    InfantRow("male", 3, (92, 11), (55, 10), (142, 14)),
    InfantRow("male", 6, (96, 9), (58, 10), (135, 14)),
    InfantRow("male", 9, (99, 9), (60, 10), (126, 15)),
)
