import json
from datetime import date, timedelta
from math import ceil
from pathlib import Path
from typing import Any

import pytest

from app.domain.ages import Age, AgeSpan
from app.domain.calendar_ages import (
    age_on,
    category_on,
    completed_months,
    first_day_of,
    reaches,
    words,
)
from app.domain.errors import Refused
from app.domain.patient_categories import PatientCategory, category_at, prove_scheme

CASES = json.loads(
    (Path(__file__).parents[1] / "examples" / "age_cases.json").read_text(encoding="utf-8")
)
DAY = timedelta(days=1)
LEAP_CYCLE = [date(2024, 1, 1) + timedelta(days=past) for past in range(1461)]


def scheme(*edges: str) -> list[PatientCategory]:
    starts = [Age.parse(edge) for edge in ("0 d", *edges)]
    ends: list[Age | None] = [*starts[1:], None]
    spans = [AgeSpan(start, end) for start, end in zip(starts, ends, strict=True)]
    return [PatientCategory(str(span.start), str(span), span) for span in spans]


def cases_scheme() -> list[PatientCategory]:
    return [
        PatientCategory(
            one["key"],
            one["key"],
            AgeSpan(Age.parse(one["from"]), None if one["to"] is None else Age.parse(one["to"])),
        )
        for one in CASES["categories"]
    ]


@pytest.mark.parametrize("case", CASES["first_days"], ids=str)
def test_an_edge_is_reached_on_its_first_day_and_not_the_day_before(case: dict[str, str]) -> None:
    edge, born = Age.parse(case["edge"]), date.fromisoformat(case["born"])
    first = date.fromisoformat(case["first_day"])

    assert first_day_of(edge, born) == first
    assert reaches(edge, born, first)
    assert not reaches(edge, born, first - DAY)


@pytest.mark.parametrize("case", CASES["reached"], ids=str)
def test_a_birth_date_reaches_a_category_and_is_told_in_words(case: dict[str, str]) -> None:
    born, on = date.fromisoformat(case["born"]), date.fromisoformat(case["on"])

    category = category_on(cases_scheme(), born, on)

    assert category is not None
    assert (category.key, words(born, on)) == (case["category"], case["words"])


@pytest.mark.parametrize("case", CASES["refused"], ids=str)
def test_a_birth_date_that_cannot_be_is_refused_and_not_repeated(case: dict[str, str]) -> None:
    born, on = date.fromisoformat(case["born"]), date.fromisoformat(case["on"])

    for asked in (age_on, words):
        with pytest.raises(Refused, match="birth date cannot lie") as refused:
            asked(born, on)
        assert str(born.year) not in str(refused.value)
    with pytest.raises(Refused, match="birth date cannot lie"):
        category_on(cases_scheme(), born, on)


def lived_by_loop(born: date, on: date, *, months: int) -> bool:
    """Whether so many months are over: by comparing calendars, without making any date."""
    months_back = 12 * on.year + on.month - months
    return (months_back, on.day) >= (12 * born.year + born.month, born.day)


def first_day_by_loop(born: date, months: int) -> date:
    day = born + timedelta(days=28 * months)
    while not lived_by_loop(born, day, months=months):
        day += DAY
    # The loop did not begin too late.
    assert months == 0 or not lived_by_loop(born, day - DAY, months=months)
    return day


@pytest.mark.parametrize("edge", ["1 mo", "3 mo", "11 mo", "1 y", "18 mo", "5 y", "13 y"])
def test_anniversaries_agree_with_a_loop_for_every_birth_date_of_a_leap_cycle(edge: str) -> None:
    age = Age.parse(edge)
    months = int(age.months)

    told = [first_day_of(age, born) for born in LEAP_CYCLE]

    assert told == [first_day_by_loop(born, months) for born in LEAP_CYCLE]
    assert told == sorted(told)  # who is born later never arrives earlier


@pytest.mark.parametrize("months", [0, 1, 11, 12, 29])
def test_completed_months_turn_on_the_anniversary(months: int) -> None:
    for born in LEAP_CYCLE:
        first = first_day_by_loop(born, months)
        assert completed_months(born, first) == months
        if months:
            assert completed_months(born, first - DAY) == months - 1


# Whether a category holds a birth date changes only on the first days of its edges, so the days
# around these stand for all others.
def days_around(categories: list[PatientCategory], born: date) -> set[date]:
    firsts = {first_day_of(category.span.start, born) for category in categories}
    around = {first + timedelta(days=past) for first in firsts for past in range(-4, 5)}
    return {day for day in around if day >= born}


def holders(categories: list[PatientCategory], born: date, on: date) -> list[PatientCategory]:
    return [
        category
        for category in categories
        if reaches(category.span.start, born, on)
        and (category.span.end is None or not reaches(category.span.end, born, on))
    ]


@pytest.mark.parametrize(
    "edges",
    [("28 d", "1 y", "5 y", "13 y"), ("7 d", "1 mo", "4.5 mo", "12 mo", "30 mo", "16 y")],
    ids=", ".join,
)
def test_categories_neither_overlap_nor_leave_a_gap_on_any_day(edges: tuple[str, ...]) -> None:
    categories = scheme(*edges)
    assert prove_scheme(categories) == []

    for born in LEAP_CYCLE:
        for on in days_around(categories, born):
            assert holders(categories, born, on) == [category_on(categories, born, on)]


def test_edges_that_cross_in_february_still_give_one_category_and_nobody_goes_back() -> None:
    categories = scheme("30 d", "1 mo")
    born = date(2026, 2, 1)
    days = [born + timedelta(days=past) for past in range(40)]
    assert len(holders(categories, born, date(2026, 3, 1))) == 2

    reached = [category_on(categories, born, on) for on in days]

    changes = [day for day, one in zip(days, reached, strict=True) if one is categories[0]]
    assert changes[-1] == date(2026, 3, 2)
    assert [one for one in reached if one is not categories[0]] == [categories[2]] * 10


def test_a_scheme_with_a_gap_answers_none_in_the_gap_and_order_does_not_matter() -> None:
    first, _, last = scheme("28 d", "1 y")
    born = date(2026, 1, 1)

    told = [category_on([last, first], born, on) for on in (born, date(2026, 6, 1))]

    assert told == [first, None]
    assert category_on([last, first], born, date(2027, 1, 1)) == last
    assert category_on([first], born, date(2027, 1, 1)) is None


@pytest.mark.parametrize(
    ("edge", "apart"), [("28 d", 0), ("4.5 mo", 0), ("1 y", 1), ("5 y", 1), ("13 y", 1)]
)
def test_typed_ages_and_birth_dates_agree_within_a_day(edge: str, apart: int) -> None:
    typed = ceil(Age.parse(edge).days)

    off = {(first_day_of(Age.parse(edge), born) - born).days - typed for born in LEAP_CYCLE}

    assert max(abs(day) for day in off) == apart


@pytest.mark.parametrize("months", range(1, 24))
def test_typed_months_and_birth_dates_agree_within_three_days(months: int) -> None:
    edge = Age.parse(f"{months} mo")

    off = [(first_day_of(edge, born) - born).days - ceil(edge.days) for born in LEAP_CYCLE]

    assert max(abs(day) for day in off) <= (1 if months % 12 == 0 else 3)


def test_away_from_edges_both_ways_reach_the_same_category() -> None:
    categories = cases_scheme()

    def both(born: date, on: date) -> tuple[Any, Any]:
        return category_on(categories, born, on), category_at(categories, age_on(born, on))

    for born in LEAP_CYCLE:
        firsts = {first_day_of(category.span.start, born) for category in categories[1:]}
        for first in firsts:
            for past in (-2, 2):
                by_date, by_age = both(born, first + timedelta(days=past))
                assert by_date == by_age
