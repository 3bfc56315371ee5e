"""Rates fall and systolic pressure rises as children grow."""

import json
from typing import Any

import pytest

from app.domain.profiles import Profile
from app.exchange.profile_json import parse_profile
from tests.domain.rules.questions import OFF, found_by
from tests.worked_profiles import document, on

RULE = "age-trend"
Band = tuple[str, str | None, dict[str, Any]]


def policy(**bands: Band) -> Profile:
    return parse_profile(json.dumps(document(bands)))


@pytest.mark.parametrize(
    ("alarm", "against"),
    [
        ("heart-rate-low", "rises"),
        ("heart-rate-high", "rises"),
        ("pulse-rate-low", "rises"),
        ("respiratory-rate-low", "rises"),
        ("airway-respiratory-rate-high", "rises"),
        ("nibp-systolic-low", "falls"),
        ("ibp-systolic-low", "falls"),
        ("nibp-systolic-high", None),
        ("nibp-mean-low", None),
        ("spo2-low", None),
    ],
)
@pytest.mark.parametrize(("elder", "way"), [(99, "falls"), (100, None), (101, "rises")])
def test_each_limit_runs_one_way(
    alarm: str, against: str | None, elder: float, way: str | None
) -> None:
    profile = policy(
        infant=("28 d", "1 y", {alarm: on(100)}), child=("1 y", None, {alarm: on(elder)})
    )

    found = found_by(RULE, profile)

    wrong = against is not None and way == against
    assert [(f.category, f.alarms) for f in found] == ([("child", (alarm,))] if wrong else [])


@pytest.mark.parametrize(
    ("first", "told"),
    [
        (("0 d", "28 d"), False),
        (("0 d", "1 mo"), False),
        (("0 d", "56 d"), True),  # half of it lies beyond the first 28 days
        (("0 d", "1 y"), True),
        (("28 d", "1 y"), True),
    ],
)
def test_the_first_weeks_are_left_out(first: tuple[str, str], *, told: bool) -> None:
    """The 1st centile of healthy hearts is 90 at birth and 107 in the months after."""
    alarm = "heart-rate-low"
    profile = policy(first=(*first, {alarm: on(90)}), then=(first[1], None, {alarm: on(100)}))

    assert bool(found_by(RULE, profile)) is told


@pytest.mark.parametrize(("start", "told"), [("17 y", True), ("18 y", True), ("19 y", False)])
def test_the_grown_are_left_out(start: str, *, told: bool) -> None:
    """An agency may well guard the old more closely than the young."""
    alarm = "heart-rate-low"
    profile = policy(young=("5 y", start, {alarm: on(45)}), old=(start, None, {alarm: on(50)}))

    assert bool(found_by(RULE, profile)) is told


def test_a_category_without_the_limit_is_stepped_over() -> None:
    alarm = "heart-rate-high"
    profile = policy(
        infant=("28 d", "1 y", {alarm: on(170)}),
        toddler=("1 y", "5 y", {alarm: OFF}),
        child=("5 y", None, {alarm: on(180)}),
    )

    (finding,) = found_by(RULE, profile)

    assert finding.message == (
        "Child: limits run against age after Infant: Heart rate high rises from 170 to 180."
    )


def test_all_limits_between_two_categories_are_one_finding() -> None:
    """Whatever the order in which the file names the categories."""
    profile = policy(
        child=("1 y", None, {"heart-rate-high": on(185), "pulse-rate-high": on(185)}),
        infant=("28 d", "1 y", {"heart-rate-high": on(180), "pulse-rate-high": on(180)}),
    )

    (finding,) = found_by(RULE, profile)

    assert finding.alarms == ("heart-rate-high", "pulse-rate-high")
    assert finding.measured == {"heart-rate-high": [180, 185], "pulse-rate-high": [180, 185]}
    assert finding.ages is not None
    assert finding.ages.words() == ["1 y", None]


def test_units_are_made_alike_before_comparing() -> None:
    alarm = "nibp-systolic-low"
    profile = policy(
        infant=("28 d", "1 y", {alarm: on(70)}),
        child=("1 y", None, {alarm: on(10, unit="kPa")}),  # 75 mmHg
    )

    assert found_by(RULE, profile) == []
