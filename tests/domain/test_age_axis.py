from itertools import pairwise

import pytest

from app.domain.age_axis import MARKS, WALK_STEPS, age_of_step, spoken, step_of_age, x_of
from app.domain.ages import BIRTH, Age, years


def test_the_axis_begins_at_birth_and_ends_at_a_hundred() -> None:
    assert x_of(BIRTH) == 0
    assert x_of(years(100)) == 1
    assert x_of(years(120)) == 1


def test_an_older_age_never_stands_further_left() -> None:
    ages = [Age.parse(f"{days} d") for days in range(0, 36500, 7)]

    assert all(x_of(younger) < x_of(older) for younger, older in pairwise(ages))


def test_the_first_year_has_about_as_much_room_as_from_five_to_a_hundred() -> None:
    """ln(1 + 365.25/60) / ln(1 + 36525/60) = 1.9583 / 6.4131"""
    assert x_of(years(1)) == pytest.approx(0.30536, abs=1e-4)


def test_every_mark_stands_at_its_age() -> None:
    assert [mark.label for mark in MARKS] == [
        "birth", "28 d", "1 y", "5 y", "13 y", "18 y", "65 y", "100 y",
    ]  # fmt: skip
    assert all(mark.x == x_of(Age.parse(mark.label)) for mark in MARKS[1:])


def test_every_step_of_the_walk_is_older_than_the_one_before() -> None:
    stops = [age_of_step(step) for step in range(WALK_STEPS + 1)]

    assert stops[0] == BIRTH
    assert stops[-1] == years(100)
    assert all(before < after for before, after in pairwise(stops))


def test_every_step_leads_back_to_itself() -> None:
    assert [step_of_age(age_of_step(step)) for step in range(WALK_STEPS + 1)] == list(
        range(WALK_STEPS + 1)
    )


@pytest.mark.parametrize("edge", ["28 d", "1 y", "5 y", "13 y", "18 y", "65 y"])
def test_the_walk_stops_at_every_usual_edge(edge: str) -> None:
    age = Age.parse(edge)

    assert age_of_step(step_of_age(age)) == age


@pytest.mark.parametrize(
    ("age", "words"),
    [
        ("0 d", "birth"),
        ("12 d", "12 d"),
        ("7.5 mo", "7.5 mo"),
        ("18 mo", "18 mo"),
        ("24 mo", "2 y"),
        ("53 mo", "4 y 5 mo"),
        ("30 y", "30 y"),
    ],
)
def test_an_age_is_told_as_people_say_it(age: str, words: str) -> None:
    assert spoken(Age.parse(age)) == words
