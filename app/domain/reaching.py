"""Which patient category somebody reaches, and in words how. Nobody reaches adult by default.

The age decides, by birth date on anniversaries or as typed. Below 44 weeks of postmenstrual age
the child is a neonate whatever the age. Weight decides only where the age is unknown.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

from app.domain.ages import Age, days
from app.domain.calendar_ages import age_on, category_on, lived_words
from app.domain.errors import Refused
from app.domain.look_up import Neighbour, neighbours_of
from app.domain.patient_categories import PatientCategory, category_at
from app.domain.postmenstrual import (
    CORRECTED_UNTIL,
    NEONATE_BELOW_WEEKS,
    Gestation,
    days_as_neonate,
    postmenstrual_days,
    weeks_and_days,
)
from app.domain.weight_ages import ASK_AGE, categories_by_weight
from app.domain.weight_doubts import weight_doubt

_LAST_NEONATAL_DAY = days(27)  # a neonate is younger than 28 d
ASK_ANYTHING = f"{ASK_AGE} If nobody knows, weigh or estimate the weight."
CONFIRM = "Confirm the age and the weight, or choose the category by hand."
ASK_MEDICAL_CONTROL = "Ask medical control; no other category stands in for it."


@dataclass(frozen=True)
class Reached:
    """`category` None: nothing may be shown before `ask` is answered or somebody chooses.

    `possible`: every category that the weight may mean, where it decides or contradicts.
    `doubts`: what contradicts, told although the age decides.
    """

    category: PatientCategory | None
    how: str
    neighbours: tuple[Neighbour, ...] = ()
    possible: tuple[PatientCategory, ...] = ()
    doubts: tuple[str, ...] = ()
    ask: str | None = None


def resolve(
    categories: Sequence[PatientCategory],
    *,
    age: Age | None = None,
    born: date | None = None,
    on: date | None = None,
    weight_kg: float | None = None,
    gestation: Gestation | None = None,
) -> Reached:
    """Raises Refused where an input is implausible, or where both an age and a birth date come."""
    if born is not None:
        if age is not None or on is None:
            raise Refused.because("give an age, or a birth date and today's date", column="born")
        lived = age_on(born, on)
        category = category_on(categories, born, on)
        how = f"By birth date, {lived_words(born, on)}"
        reached = _by_age(categories, category, lived, how)
    elif age is not None:
        lived = age
        reached = _by_age(categories, category_at(categories, age), age, f"By age, {age}")
    else:
        return _without_age(categories, weight_kg, gestation)
    if gestation is not None:
        reached = _by_gestation(categories, reached, lived, gestation)
    return (
        reached if weight_kg is None else _weighed(categories, reached, lived, weight_kg, gestation)
    )


def _by_age(
    categories: Sequence[PatientCategory],
    category: PatientCategory | None,
    age: Age,
    how: str,
) -> Reached:
    if category is None:
        return Reached(None, f"{how}: this policy has no category.", ask=ASK_MEDICAL_CONTROL)
    neighbours = neighbours_of(categories, category, age)
    return Reached(category, f"{how}: {category.label}.", neighbours)


def _by_gestation(
    categories: Sequence[PatientCategory], by_age: Reached, age: Age, gestation: Gestation
) -> Reached:
    if age <= _LAST_NEONATAL_DAY or age >= CORRECTED_UNTIL:
        return by_age
    left = days_as_neonate(gestation, age)
    told = f"Postmenstrual age {weeks_and_days(postmenstrual_days(gestation, age))}"
    if left <= 0:
        how = f"{by_age.how} {told}: {NEONATE_BELOW_WEEKS} weeks are reached, so the age decides."
        return replace(by_age, how=how)
    neonate = category_at(categories, _LAST_NEONATAL_DAY)
    if neonate is None:
        return Reached(None, f"{told}: this policy has no category.", ask=ASK_MEDICAL_CONTROL)
    how = (
        f"{told}, below {NEONATE_BELOW_WEEKS} weeks: {neonate.label}, whatever the age; "
        f"{NEONATE_BELOW_WEEKS} weeks are reached in {-(-left // 1)} d."
    )
    return Reached(neonate, how)


def _weighed(
    categories: Sequence[PatientCategory],
    reached: Reached,
    age: Age,
    weight_kg: float,
    gestation: Gestation | None,
) -> Reached:
    by_weight = categories_by_weight(categories, weight_kg)
    if reached.category is None:
        return reached
    doubt = weight_doubt(reached.category, age, by_weight, gestation)
    if doubt is None:
        return reached
    return replace(reached, possible=by_weight.possible, doubts=(doubt,), ask=CONFIRM)


def _without_age(
    categories: Sequence[PatientCategory], weight_kg: float | None, gestation: Gestation | None
) -> Reached:
    if weight_kg is None:
        return Reached(None, "Age and weight are unknown.", ask=ASK_ANYTHING)
    by = categories_by_weight(categories, weight_kg)
    reached = Reached(by.category, by.how, possible=by.possible, ask=by.ask)
    if by.weight.age is not None and by.category is None:
        return replace(reached, ask=ASK_MEDICAL_CONTROL)
    if by.category and gestation and gestation.preterm:
        doubt = f"Born at {gestation}: weight says little of the age."
        return replace(reached, doubts=(doubt,), ask=ASK_AGE)
    return reached
