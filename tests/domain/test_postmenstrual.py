import pytest

from app.domain.ages import Age
from app.domain.errors import Refused
from app.domain.postmenstrual import (
    Gestation,
    corrected_age,
    days_as_neonate,
    is_neonate_by_postmenstrual_age,
    postmenstrual_days,
    weeks_and_days,
)


@pytest.mark.parametrize(
    ("weeks", "days", "age", "neonate"),
    [
        (28, 0, "56 d", True),  # 36+0
        (28, 0, "111 d", True),  # 43+6
        (28, 0, "112 d", False),  # 44+0
        (28, 1, "111 d", False),  # 44+0 as well
        (28, 0, "5 mo", False),  # 49+5
        (24, 0, "4.5 mo", True),  # 43+3, though nearly five months old
        (22, 0, "153 d", True),
        (22, 0, "154 d", False),
        (40, 0, "27 d", True),
        (40, 0, "28 d", False),
        (42, 0, "13 d", True),
        (42, 0, "14 d", False),
        (44, 0, "0 d", False),
        (40, 0, "8 y", False),
    ],
)
def test_below_44_weeks_is_neonate_whatever_the_age(
    weeks: int, days: int, age: str, neonate: bool
) -> None:
    assert is_neonate_by_postmenstrual_age(weeks, days, Age.parse(age)) is neonate


@pytest.mark.parametrize(
    ("weeks", "days"), [(21, 6), (44, 1), (45, 0), (0, 0), (-28, 0), (28, 7), (28, -1)]
)
def test_an_implausible_gestation_is_refused(weeks: int, days: int) -> None:
    with pytest.raises(Refused, match=r"plausible gestation|days beside the weeks"):
        is_neonate_by_postmenstrual_age(weeks, days, Age.parse("1 d"))


@pytest.mark.parametrize(("weeks", "days"), [(22, 0), (44, 0)])
def test_the_bounds_of_a_plausible_gestation_are_taken(weeks: int, days: int) -> None:
    assert Gestation(weeks, days).total_days == 7 * weeks + days


@pytest.mark.parametrize(
    ("text", "weeks", "days"), [("28+3", 28, 3), ("28", 28, 0), (" 36+6 ", 36, 6)]
)
def test_a_gestation_is_read_as_people_write_it(text: str, weeks: int, days: int) -> None:
    assert Gestation.parse(text) == Gestation(weeks, days)


@pytest.mark.parametrize("text", ["", "28+7", "28-3", "28.5", "128", "28+", "٢٨", "28 w", "21+6"])
def test_anything_else_is_no_gestation(text: str) -> None:
    with pytest.raises(Refused, match="gestation"):
        Gestation.parse(text)


@pytest.mark.parametrize(("weeks", "days", "preterm"), [(36, 6, True), (37, 0, False)])
def test_preterm_is_before_37_weeks(weeks: int, days: int, preterm: bool) -> None:
    assert Gestation(weeks, days).preterm is preterm


@pytest.mark.parametrize(
    ("gestation", "age", "corrected"),
    [
        ("28", "56 d", "0 d"),  # before the due date
        ("28", "84 d", "0 d"),
        ("28", "100 d", "16 d"),
        ("36+6", "100 d", "78 d"),
        ("37", "100 d", "100 d"),  # term
        ("28", "2 y", "2 y"),  # too old to correct
    ],
)
def test_corrected_age_counts_from_the_due_date(gestation: str, age: str, corrected: str) -> None:
    assert corrected_age(Gestation.parse(gestation), Age.parse(age)) == Age.parse(corrected)


def test_weeks_are_told_completed() -> None:
    gestation, age = Gestation(28, 3), Age.parse("60.5 d")

    assert weeks_and_days(postmenstrual_days(gestation, Age.parse("59.9 d"))) == "36+6 weeks"
    assert weeks_and_days(postmenstrual_days(gestation, age)) == "37+0 weeks"
    assert days_as_neonate(gestation, age) == Age.parse("48.5 d").days
