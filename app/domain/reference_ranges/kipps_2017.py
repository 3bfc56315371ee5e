"""Alarm limits that a children's ward ordered before, and those it derived from its own data.

Kipps AK et al. 2017, Pediatrics 140(2):e20162458, table of data-driven parameters. Grade P. These
are limits of an acute care ward for children in hospital, no ranges of healthy children.
Respiratory rate has a third pair, revised after the first experience.
Checked in tests/published/test_kipps_2017.py.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from app.domain.reference_ranges.range_rows import RangeRow

SOURCE = "Kipps AK et al. 2017, Pediatrics 140(2):e20162458"
GRADE = "P"
Pair = tuple[int, int]


@dataclass(frozen=True)
class WardLimits:
    """Ages in months; every pair is low and high, per minute."""

    group: str
    ages: Pair
    heart_before: Pair
    heart: Pair
    breath_before: Pair
    breath: Pair
    breath_revised: Pair

    def ranges(self) -> Iterator[RangeRow]:
        """The data-driven limits of both rates."""
        for sign, (low, high) in (("heart-rate", self.heart), ("respiratory-rate", self.breath)):
            yield RangeRow.of(sign, self.group, self.ages, (str(low), str(high)))

    def ranges_before(self) -> Iterator[RangeRow]:
        before = (("heart-rate", self.heart_before), ("respiratory-rate", self.breath_before))
        for sign, (low, high) in before:
            yield RangeRow.of(sign, self.group, self.ages, (str(low), str(high)))


# fmt: off
TABLE = (
    WardLimits("<1 mo", (0, 1), (80, 160), (115, 170), (30, 60), (30, 60), (10, 60)),
    WardLimits("1-6 mo", (1, 6), (80, 160), (105, 170), (24, 38), (20, 55), (10, 55)),
    WardLimits("6-12 mo", (6, 12), (80, 150), (100, 165), (20, 35), (20, 45), (10, 50)),
    WardLimits("1-2 y", (12, 24), (80, 150), (90, 165), (20, 35), (20, 45), (10, 50)),
    WardLimits("2-3 y", (24, 36), (80, 140), (85, 155), (22, 30), (18, 40), (10, 50)),
    WardLimits("3-5 y", (36, 60), (60, 110), (75, 155), (20, 24), (16, 35), (10, 50)),
    WardLimits("5-9 y", (60, 108), (60, 110), (70, 140), (16, 25), (16, 30), (10, 50)),
    WardLimits("9-12 y", (108, 144), (60, 110), (65, 130), (16, 22), (14, 30), (10, 50)),
    WardLimits("12-15 y", (144, 180), (50, 110), (60, 125), (12, 18), (14, 30), (10, 50)),
    WardLimits(">15 y", (180, 216), (50, 110), (60, 115), (12, 18), (13, 25), (10, 50)),
)
# fmt: on
