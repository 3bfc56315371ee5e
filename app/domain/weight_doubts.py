"""Whether a weight goes with an age that is known. The age decides; a doubt is only told.

Below 10 years a weight outside the WHO range of the age is told where it means other categories,
or where it lies beyond three standard deviations for both sexes in the months before and after
(WHO calls a child below them severely underweight). From 10 to 18 years: below 75 % or above
145 % of the CDC median, which is how far the WHO 3rd and 97th centiles lie from the median at 10
years, where the weight means other categories. From 18 years on: at most the WHO median at 10
years. The last two are judgements.
"""

from itertools import pairwise
from math import ceil, floor

from app.domain.ages import BIRTH, Age, years
from app.domain.patient_categories import PatientCategory
from app.domain.postmenstrual import CORRECTED_UNTIL, Gestation, corrected_age
from app.domain.reference_ranges.cdc_weight import MEDIANS as CDC_MEDIANS
from app.domain.weight_ages import MEDIANS, TABLE_END, CategoriesByWeight, about, rows_at

_FAR = 3.0
_LIGHT_SHARE, _HEAVY_SHARE = 0.75, 1.45
_GROWN = years(CDC_MEDIANS[-1][0])


def weight_doubt(
    category: PatientCategory,
    age: Age,
    by_weight: CategoriesByWeight,
    gestation: Gestation | None = None,
) -> str | None:
    """A sentence where the weight hardly goes with the age; None where it does."""
    early = gestation is not None and gestation.preterm and age < CORRECTED_UNTIL
    grown = corrected_age(gestation, age) if gestation and early else age
    way = _unusual(category, grown, by_weight)
    # Before the due date the table holds nothing that a light child could be held against.
    if way is None or (early and grown == BIRTH and way == "light"):
        return None
    held = f"{about(grown)}, by corrected age" if early else about(grown)
    told = f"{by_weight.weight.kg:g} kg is {way} at {held}: check both. The age decides."
    if way == "light" and gestation is None and age < CORRECTED_UNTIL:
        told += " A child born early can be so light: give the gestation at birth."
    return told


def _unusual(category: PatientCategory, age: Age, by_weight: CategoriesByWeight) -> str | None:
    """`light`, `heavy` or None."""
    kg = by_weight.weight.kg
    if age >= _GROWN:
        return "light" if kg <= MEDIANS[-1] else None
    elsewhere = category not in by_weight.possible
    if age < TABLE_END:
        told = _far(age, kg) or (elsewhere and age not in by_weight.weight)
    else:
        told = elsewhere and not _LIGHT_SHARE <= kg / _cdc_median(age) <= _HEAVY_SHARE
    if not told:
        return None
    return "light" if kg < _median(age) else "heavy"


def _far(age: Age, kg: float) -> bool:
    scores = [
        row.score_of(kg)
        for month in {floor(age.months), ceil(age.months)}
        for row in rows_at(month)
    ]
    return min(scores) > _FAR or max(scores) < -_FAR


def _median(age: Age) -> float:
    return MEDIANS[int(age.months)] if age < TABLE_END else _cdc_median(age)


def _cdc_median(age: Age) -> float:
    """In a straight line between the printed years."""
    at = float(age.years)
    low, high = next(pair for pair in pairwise(CDC_MEDIANS) if pair[0][0] <= at < pair[1][0])
    return low[1] + (high[1] - low[1]) * (at - low[0]) / (high[0] - low[0])
