"""One axis from birth to 100 years, at the same place on every page: x = ln(1 + days / 60).

It gives a newborn's first weeks as much room as the years from 65 on, because policies do too.
"""

from dataclasses import dataclass
from fractions import Fraction
from math import ceil, exp, log1p

from app.domain.ages import BIRTH, DAYS_PER_MONTH, DAYS_PER_YEAR, Age, days, years

SOFTENING_DAYS = 60
END = years(100)
WALK_STEPS = 200  # stops of somebody who walks a child along the axis by arrow keys


def _stretched(age: Age) -> float:
    return log1p(float(age.days) / SOFTENING_DAYS)


_FULL = _stretched(END)


def x_of(age: Age) -> float:
    """0 at birth, 1 at 100 years; older people stand at the end."""
    return min(_stretched(age) / _FULL, 1.0)


def age_of_step(step: int) -> Age:
    """The roundest age that stands nearer to this stop than to any other."""
    if step <= 0:
        return BIRTH
    return END if step >= WALK_STEPS else _roundest(_days_at(step - 0.5), _days_at(step + 0.5))


def step_of_age(age: Age) -> int:
    return round(x_of(age) * WALK_STEPS)


def _days_at(step: float) -> Fraction:
    return Fraction(SOFTENING_DAYS * (exp(step / WALK_STEPS * _FULL) - 1))


_YEARS = tuple(DAYS_PER_YEAR * years for years in (10, 5, 1))
_MONTHS = tuple(DAYS_PER_MONTH * months for months in (6, 3, 1, Fraction(1, 2)))
_DAYS = (Fraction(7), Fraction(1))
_TOLD_IN_DAYS = 60


def _roundest(least: Fraction, below: Fraction) -> Age:
    """Every stop is longer than a day, so some whole day stands in it."""
    units = _DAYS if least < _TOLD_IN_DAYS else (*_YEARS, *_MONTHS, *_DAYS)
    firsts = (ceil(least / unit) * unit for unit in units)
    return Age(next(first for first in firsts if 0 < first < below))


def spoken(age: Age) -> str:
    """As people say it: birth, 12 d, 7.5 mo, 4 y 5 mo, 30 y."""
    if age == BIRTH:
        return "birth"
    months_over = age.months % 12
    if age.years < 2 or not months_over or months_over.denominator != 1:
        return str(age)
    return f"{age.years // 1} y {months_over} mo"


@dataclass(frozen=True)
class AxisMark:
    """A labelled age; x from 0 to 1."""

    x: float
    label: str


MARKS: tuple[AxisMark, ...] = (
    AxisMark(0.0, "birth"),
    AxisMark(x_of(days(28)), "28 d"),
    *(AxisMark(x_of(years(age)), f"{age} y") for age in (1, 5, 13, 18, 65, 100)),
)
