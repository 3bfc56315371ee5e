"""The numbers themselves are held against their sources in tests/published."""

import pytest

from app.domain.ages import Age, AgeSpan
from app.domain.alarm_conditions import Side
from app.domain.sources_over import SaidOver, apart, sources_over


def said(
    quantity: str, start: str, end: str | None, side: Side = "high"
) -> dict[str, tuple[str, str, bool]]:
    return {
        one.voice.name: (one.means, str(one.reach), one.whole)
        for one in over(quantity, start, end, side)
    }


def over(quantity: str, start: str, end: str | None, side: Side) -> tuple[SaidOver, ...]:
    return sources_over(quantity, AgeSpan(Age.parse(start), Age.parse(end) if end else None), side)


def test_a_source_speaks_over_the_ages_of_the_bound_and_not_beyond() -> None:
    found = said("heart-rate", "1 y", "5 y")

    assert found["National PEWS 2023"] == ("scores 4 from", "170", True)
    assert "NEWS2 2017" not in found


def test_a_source_that_speaks_of_a_part_says_so() -> None:
    found = said("heart-rate", "5 y", None)

    assert found["NEWS2 2017"][2] is False


def test_a_value_that_moves_with_age_is_told_from_one_end_to_the_other() -> None:
    found = said("nibp-systolic", "1 y", "10 y", "low")

    assert found["PALS hypotension"] == ("hypotension below", "72–90", True)


def test_a_sign_judged_as_another_is_told_by_its_sources() -> None:
    assert said("pulse-rate", "1 y", "5 y") == said("heart-rate", "1 y", "5 y")


@pytest.mark.parametrize(
    ("quantity", "end", "told"),
    [
        ("inspired-co2", None, ""),
        ("spo2", "28 d", ""),
    ],
)
def test_fewer_than_two_sources_cannot_lie_apart(quantity: str, end: str | None, told: str) -> None:
    assert apart(over(quantity, "0 d", end, "high")) == told


def test_how_far_the_sources_lie_apart_is_told() -> None:
    found = apart(over("heart-rate", "1 y", "5 y", "high"))

    assert found.startswith("they differ by up to")
