from itertools import pairwise

import pytest

from app.domain.ages import BIRTH, Age, AgeSpan, months
from app.domain.errors import Refused
from app.domain.patient_categories import PatientCategory
from app.domain.reference_ranges.who_weight import TABLE
from app.domain.weight_ages import (
    HEAVY,
    LIGHT,
    MEDIANS,
    about,
    age_from_weight,
    categories_by_weight,
)
from app.exchange.profile_json import profile_from_document
from tests.worked_profiles import five_categories

FIVE = profile_from_document(five_categories()).categories
ONE_OPEN = [PatientCategory("all", "All", AgeSpan(BIRTH, None))]


def told(age: Age | None) -> str | None:
    return None if age is None else about(age)


@pytest.mark.parametrize(
    ("kg", "age", "youngest", "oldest"),
    [
        (0.2, "birth", "birth", "birth"),
        (2.4, "birth", "birth", "birth"),
        (3.2, "birth", "birth", "30 d"),
        (4.34, "31 d", "birth", "2 mo"),
        (7.21, "5 mo", "2 mo", "12 mo"),
        (9.3, "12 mo", "5 mo", "2 y"),
        (18.0, "4 y", "2 y", "7 y"),
        (23.5, "7 y", "4 y", "9 y"),
        (23.6, "7 y", "4 y", None),
        (31.5, "9 y", "7 y", None),
        (31.6, None, "7 y", None),
        (45.69, None, "9 y", None),
        (45.71, None, None, None),
        (650.0, None, None, None),
    ],
)
def test_a_weight_is_the_median_at_one_age_and_usual_at_many(
    kg: float, age: str, youngest: str | None, oldest: str | None
) -> None:
    found = age_from_weight(kg)

    assert (told(found.age), told(found.youngest), told(found.oldest)) == (age, youngest, oldest)


@pytest.mark.parametrize("month", range(121))
def test_the_range_ends_where_the_third_and_the_97th_centile_pass(month: int) -> None:
    rows = [row for row in TABLE if row.months == month]
    lightest = min(row.weight_at(3) for row in rows)
    heaviest = max(row.weight_at(97) for row in rows)

    assert months(month) in age_from_weight(lightest)
    assert months(month) in age_from_weight(heaviest)
    assert months(month) not in age_from_weight(lightest * 0.999)
    # At 61 months, where the references meet, the 97th centile lies below that of 60 months.
    assert (months(month) not in age_from_weight(heaviest * 1.001)) is (month != 61)


def test_heavier_is_never_younger() -> None:
    weights = [0.2 + step / 20 for step in range(620)]

    ages = [age_from_weight(kg).age for kg in weights]

    known = [age for age in ages if age is not None]
    assert len(known) == len(ages)
    assert all(before <= after for before, after in pairwise(known))


def test_the_median_age_lies_in_the_range_unless_below_the_third_centile() -> None:
    for kg in (2.5, 3.29, 4.0, 9.3, 18.3, 23.6, 31.5):
        found = age_from_weight(kg)
        assert found.age is not None
        assert found.age in found


@pytest.mark.parametrize("kg", [0.0, 0.19, -3.0, 650.1, float("nan"), float("inf")])
def test_what_nobody_weighs_is_refused(kg: float) -> None:
    with pytest.raises(Refused, match=r"between 0.2 and 650 kg"):
        age_from_weight(kg)


@pytest.mark.parametrize(("kg", "possible"), [(2.4, True), (2.45, False)])
def test_below_the_third_centile_at_birth_preterm_is_said_to_be_possible(
    kg: float, possible: bool
) -> None:
    found = categories_by_weight(FIVE, kg)

    assert found.weight.preterm_possible is possible
    assert ("Below the 3rd centile at birth (2.4 kg): born preterm is possible" in found.how) is (
        possible
    )
    assert ("Ask the gestation" in (found.ask or "")) is possible


@pytest.mark.parametrize(("kg", "said"), [(HEAVY[0], True), (HEAVY[0] + 0.01, False)])
def test_a_weight_usual_at_birth_may_be_an_older_child_born_preterm(kg: float, said: bool) -> None:
    assert ("Born preterm, the child may be older." in age_from_weight(kg).sure) is said


@pytest.mark.parametrize(
    ("kg", "category", "possible", "certain"),
    [
        (1.2, "neonate", ["neonate"], False),
        (2.45, "neonate", ["neonate"], True),
        (3.05, "neonate", ["neonate"], True),
        (3.5, "neonate", ["neonate", "infant"], False),
        (5.0, "infant", ["neonate", "infant"], False),
        (7.0, "infant", ["infant"], True),
        (LIGHT[12] - 0.001, "infant", ["infant"], True),
        (LIGHT[12], "infant", ["infant", "young-child"], False),
        (MEDIANS[12] - 0.001, "infant", ["infant", "young-child"], False),
        (MEDIANS[12], "young-child", ["infant", "young-child"], False),
        (HEAVY[12] - 0.001, "young-child", ["infant", "young-child"], False),
        (HEAVY[12], "young-child", ["young-child"], True),
        (13.0, "young-child", ["young-child"], True),
        (18.0, "young-child", ["young-child", "child"], False),
        (18.3, "child", ["young-child", "child"], False),
        (31.5, "child", ["child"], False),  # a light child of more than 10 years weighs this too
        (31.6, None, ["child"], False),
        (38.0, None, ["child"], False),
        (80.0, None, [], False),
    ],
)
def test_categories_that_a_weight_can_mean(
    kg: float, category: str | None, possible: list[str], certain: bool
) -> None:
    found = categories_by_weight(FIVE, kg)

    assert (found.category.key if found.category else None) == category
    assert [one.key for one in found.possible] == possible
    assert found.certain is certain
    assert (found.ask is None) is certain


@pytest.mark.parametrize("kg", [31.6, 45.71, 80.0, 300.0])
def test_above_the_table_nobody_becomes_an_adult(kg: float) -> None:
    found = categories_by_weight(FIVE, kg)

    assert found.category is None
    assert "above the median at 10 y, where the WHO table ends" in found.how
    assert found.ask is not None
    assert found.ask.startswith("Ask the age or the birth date.")


def test_a_range_beyond_the_table_is_certain_only_in_an_open_category() -> None:
    assert categories_by_weight(ONE_OPEN, 31.5).certain
    assert not categories_by_weight(FIVE, 31.5).certain


@pytest.mark.parametrize(
    ("age", "words"),
    [
        ("0 d", "birth"),
        ("60 d", "60 d"),
        ("61 d", "2 mo"),
        ("23.9 mo", "23 mo"),
        ("24 mo", "2 y"),
        ("4.9 y", "4 y"),
    ],
)
def test_ages_by_weight_are_told_in_completed_units(age: str, words: str) -> None:
    assert about(Age.parse(age)) == words
