from fractions import Fraction

import pytest

from app.domain.ages import BIRTH, Age, AgeSpan, days, hull, months, years


@pytest.mark.parametrize(
    ("written", "in_days"),
    [
        ("0 d", 0),
        ("28 d", 28),
        ("1 mo", Fraction(487, 16)),
        ("4.5 mo", Fraction(4383, 32)),
        ("12 mo", Fraction(1461, 4)),
        ("1 y", Fraction(1461, 4)),
        ("16 y", 5844),
    ],
)
def test_a_typed_age_is_exact(written: str, in_days: Fraction) -> None:
    assert Age.parse(written).days == in_days


@pytest.mark.parametrize(
    "written", ["", "7", "7mo", "7  mo", "7 months", "-1 d", "1e3 d", "131 y", "7 wk", "٧ d"]
)
def test_anything_else_is_no_age(written: str) -> None:
    with pytest.raises(ValueError, match=r"age|older"):
        Age.parse(written)


@pytest.mark.parametrize(
    ("age", "words"),
    [
        (BIRTH, "0 d"),
        (days(28), "28 d"),
        (months(12), "1 y"),
        (months(30), "30 mo"),
        (months(Fraction(9, 2)), "4.5 mo"),
        (years(Fraction(7, 3)), "28 mo"),
        (days(Fraction(1, 2)), "0.5 d"),
    ],
)
def test_an_age_is_written_in_the_largest_whole_unit(age: Age, words: str) -> None:
    assert str(age) == words
    assert abs(Age.parse(words).days - age.days) < 1


@pytest.mark.parametrize(("age", "inside"), [("28 d", True), ("364 d", True), ("1 y", False)])
def test_a_span_holds_its_start_and_not_its_end(age: str, inside: bool) -> None:
    span = AgeSpan(days(28), years(1))

    assert (Age.parse(age) in span) is inside


def test_spans_meet_in_what_both_hold() -> None:
    infant, open_end = AgeSpan(days(28), years(1)), AgeSpan(months(6), None)

    assert infant.meet(open_end) == AgeSpan(months(6), years(1))
    assert infant.meet(AgeSpan(years(1), None)) is None
    assert hull([infant, open_end]) == AgeSpan(days(28), None)


def test_whole_days_are_counted_from_the_first_to_the_last_inside() -> None:
    assert AgeSpan(BIRTH, days(28)).whole_days() == 28
    assert AgeSpan(days(28), years(1)).whole_days() == 338  # 28 … 365; a year ends at 365.25
    assert AgeSpan(months(3), months(6)).whole_days() == 91  # 92 … 182
