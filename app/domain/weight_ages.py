"""An age from weight alone, only where the age is unknown, and how sure it is.

WHO weight for age, the mean of the sexes' medians; in a straight line between completed months.
The range holds every age at which the weight lies between the 3rd centile of the lighter sex and
the 97th of the heavier one. It says nothing above 10 years, where the table ends.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import floor

from app.domain.ages import BIRTH, Age, months
from app.domain.errors import Refused
from app.domain.patient_categories import PatientCategory, category_at
from app.domain.reference_ranges.weight_rows import WeightRow
from app.domain.reference_ranges.who_weight import TABLE

_LAST_MONTH = max(row.months for row in TABLE)
TABLE_END = months(_LAST_MONTH)
LIGHTEST, HEAVIEST = 0.2, 650.0  # kg; what a person can weigh at all, a judgement
ASK_AGE = "Ask the age or the birth date."


def rows_at(month: int) -> list[WeightRow]:
    return [row for row in TABLE if row.months == month]


def _of_months(value: Callable[[list[WeightRow]], float]) -> tuple[float, ...]:
    return tuple(value(rows_at(month)) for month in range(_LAST_MONTH + 1))


# Kilograms at each completed month.
MEDIANS = _of_months(lambda rows: sum(row.median for row in rows) / len(rows))
LIGHT = _of_months(lambda rows: min(row.weight_at(3) for row in rows))
HEAVY = _of_months(lambda rows: max(row.weight_at(97) for row in rows))


@dataclass(frozen=True)
class WeightAge:
    """`age` None: above the median at 10 y. `youngest` None: above the 97th centile there.
    `oldest` None: the weight is usual at 10 y still, and the table ends.
    Below the 3rd centile at birth all three are birth, and no age is usual.
    """

    kg: float
    age: Age | None
    youngest: Age | None
    oldest: Age | None
    preterm_possible: bool
    sure: str

    def __contains__(self, age: Age) -> bool:
        """Usual at this age, as far as the table goes."""
        if self.youngest is None or self.preterm_possible or age < self.youngest:
            return False
        return self.oldest is None or age <= self.oldest


@dataclass(frozen=True)
class CategoriesByWeight:
    """`category` by the median age, None above the table; `possible` by the whole range."""

    weight: WeightAge
    category: PatientCategory | None
    possible: tuple[PatientCategory, ...]
    certain: bool
    how: str
    ask: str | None


def age_from_weight(kg: float) -> WeightAge:
    """Raises Refused for a weight that no patient has."""
    checked_weight(kg)
    youngest = BIRTH if kg <= HEAVY[0] else _first_reaching(HEAVY, kg)
    oldest = BIRTH if kg < LIGHT[0] else _last_reached(LIGHT, kg)
    age = BIRTH if kg <= MEDIANS[0] else _first_reaching(MEDIANS, kg)
    preterm = kg < LIGHT[0]
    return WeightAge(kg, age, youngest, oldest, preterm, _sure(kg, youngest, oldest))


def checked_weight(kg: float) -> float:
    """Also refuses what is no number; raises Refused."""
    if not LIGHTEST <= kg <= HEAVIEST:
        raise Refused.because(
            f"a weight lies between {LIGHTEST:g} and {HEAVIEST:g} kg", column="weight", value=kg
        )
    return kg


def categories_by_weight(categories: Sequence[PatientCategory], kg: float) -> CategoriesByWeight:
    weight = age_from_weight(kg)
    possible = _touched(categories, weight)
    if weight.age is None:
        how = f"{kg:g} kg is above the median at {TABLE_END}, where the WHO table ends."
        no_help = f"{ASK_AGE} Weight alone cannot tell a heavy child from an adult."
        return CategoriesByWeight(weight, None, possible, certain=False, how=how, ask=no_help)
    category = category_at(categories, weight.age)
    certain = not weight.preterm_possible and _is_one(possible, weight)
    below = "at or below " if weight.age == BIRTH else ""
    how = (
        f"By weight alone ({kg:g} kg, {below}the WHO median at {about(weight.age)}). {weight.sure}"
    )
    ask = None if certain else ASK_AGE
    if weight.preterm_possible:
        ask = f"{ASK_AGE} Ask the gestation at birth."
    return CategoriesByWeight(weight, category, possible, certain, how, ask)


def about(age: Age) -> str:
    """As far as a weight can tell, in completed days to 2 months, months to 2 years, years."""
    if age == BIRTH:
        return "birth"
    if age.months < 2:
        return f"{floor(age.days)} d"
    return f"{floor(age.months)} mo" if age.years < 2 else f"{floor(age.years)} y"


def _touched(
    categories: Sequence[PatientCategory], weight: WeightAge
) -> tuple[PatientCategory, ...]:
    """Of the ages that the table holds; the oldest age itself belongs to the range."""
    if weight.youngest is None:
        return ()
    youngest, oldest = weight.youngest, weight.oldest or TABLE_END
    return tuple(
        category
        for category in categories
        if category.span.start <= oldest and youngest < category.span.stop
    )


def _is_one(possible: tuple[PatientCategory, ...], weight: WeightAge) -> bool:
    """Where the table ends before the range does, only an open end leaves no other."""
    if len(possible) != 1:
        return False
    return weight.oldest is not None or possible[0].span.end is None


def _sure(kg: float, youngest: Age | None, oldest: Age | None) -> str:
    if kg < LIGHT[0]:
        return f"Below the 3rd centile at birth ({LIGHT[0]:.1f} kg): born preterm is possible."
    if youngest is None:
        return f"Above the 97th centile at {TABLE_END}: the age cannot be told."
    until = f"beyond {TABLE_END}" if oldest is None else about(oldest)
    early = " Born preterm, the child may be older." if kg <= HEAVY[0] else ""
    return f"Usual from {about(youngest)} to {until}.{early}"


def _first_reaching(curve: Sequence[float], kg: float) -> Age | None:
    """The first age at which the curve is up at the weight; the curve begins below it."""
    above = next((month for month, at in enumerate(curve) if at >= kg), None)
    return None if above is None else _between(curve, above - 1, kg)


def _last_reached(curve: Sequence[float], kg: float) -> Age | None:
    """The last age at which the curve is not above the weight; the curve begins there."""
    last = max(month for month, at in enumerate(curve) if at <= kg)
    return None if last == len(curve) - 1 else _between(curve, last, kg)


def _between(curve: Sequence[float], month: int, kg: float) -> Age:
    """In a straight line between a month and the next; exact at both."""
    low, high = curve[month], curve[month + 1]
    return months(month + Fraction((kg - low) / (high - low)))
