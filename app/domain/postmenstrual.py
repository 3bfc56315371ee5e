"""Postmenstrual age: gestation at birth plus time since birth; below 44 weeks is neonate.

44 weeks are a term birth (40 weeks) and 28 days more. The bound is common practice.
"""

import re
from dataclasses import dataclass
from fractions import Fraction

from app.domain.ages import BIRTH, Age, years
from app.domain.errors import Refused

NEONATE_BELOW_WEEKS = 44
SHORTEST_WEEKS, LONGEST_WEEKS = 22, 44  # plausible gestations at birth; a judgement
TERM_WEEKS = 37  # born before is preterm (WHO definition)
DUE_WEEKS = 40
CORRECTED_UNTIL = years(2)  # growth is read by corrected age up to here; common practice
_WEEK = 7
_WRITTEN = re.compile(r"(\d{1,2})(?:\+([0-6]))?", re.ASCII)


@dataclass(frozen=True, order=True)
class Gestation:
    """Completed weeks and days at birth; raises Refused where they are implausible."""

    weeks: int
    days: int = 0

    def __post_init__(self) -> None:
        if not 0 <= self.days < _WEEK:
            raise Refused.because("days beside the weeks are 0 to 6", column="gestation")
        if not SHORTEST_WEEKS * _WEEK <= self.total_days <= LONGEST_WEEKS * _WEEK:
            raise Refused.because(
                f"{self} is no plausible gestation at birth: "
                f"{SHORTEST_WEEKS} to {LONGEST_WEEKS} weeks are",
                column="gestation",
            )

    @classmethod
    def parse(cls, text: str) -> "Gestation":
        """Read `28+3` or `28`; raises Refused."""
        found = _WRITTEN.fullmatch(text.strip())
        if found is None:
            raise Refused.because(
                f"{text!r} is no gestation: write weeks and days, such as '28+3'",
                column="gestation",
            )
        return cls(int(found[1]), int(found[2] or 0))

    @property
    def total_days(self) -> int:
        return _WEEK * self.weeks + self.days

    @property
    def preterm(self) -> bool:
        return self.weeks < TERM_WEEKS

    def __str__(self) -> str:
        return f"{self.weeks}+{self.days} weeks"


def postmenstrual_days(gestation: Gestation, age: Age) -> Fraction:
    return gestation.total_days + age.days


def days_as_neonate(gestation: Gestation, age: Age) -> Fraction:
    """Days until 44 weeks; none left, or fewer, at and beyond them."""
    return NEONATE_BELOW_WEEKS * _WEEK - postmenstrual_days(gestation, age)


def corrected_age(gestation: Gestation, age: Age) -> Age:
    """Since the due date, for a child born preterm and below 2 years; never below birth."""
    if not gestation.preterm or age >= CORRECTED_UNTIL:
        return age
    return max(BIRTH, Age(postmenstrual_days(gestation, age) - DUE_WEEKS * _WEEK))


def weeks_and_days(total: Fraction) -> str:
    """`36+0 weeks`, in completed days."""
    weeks, left = divmod(total // 1, _WEEK)
    return f"{weeks}+{left} weeks"


def is_neonate_by_postmenstrual_age(gestation_weeks: int, gestation_days: int, age: Age) -> bool:
    """Whatever the age since birth; raises Refused for an implausible gestation."""
    return days_as_neonate(Gestation(gestation_weeks, gestation_days), age) > 0
