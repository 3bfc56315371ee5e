import pytest

from app.domain.age_axis import x_of
from app.domain.ages import Age
from app.domain.alarm_conditions import ALARM_CONDITIONS
from app.domain.errors import NotFound
from app.domain.look_up import (
    NEAR,
    LimitsAt,
    StatedAlarm,
    limits_at,
    limits_of_category,
    published_range,
)
from app.domain.reference_ranges import PUBLISHED
from app.domain.reference_ranges.fleming_2011 import SOURCE
from app.domain.settings_of_alarms import On
from app.domain.vital_signs import VITAL_SIGNS
from app.exchange.profile_json import profile_from_document
from tests.builders import a_document

PROFILE = profile_from_document(a_document() | {"agency": "Skerry Ambulance"})


def at(age: str) -> LimitsAt:
    found = limits_at(PROFILE, Age.parse(age))
    assert found is not None
    return found


@pytest.mark.parametrize(
    ("age", "neighbour", "ahead"),
    [
        ("20 d", None, False),
        ("27 d", "infant", True),
        ("28 d", "neonate", False),
        ("36 d", None, False),
        ("10 mo", None, False),
        ("11.5 mo", "preschool", True),
        ("364 d", "preschool", True),
        ("1 y", "infant", False),
        ("3 y", None, False),
        ("12 y", "adult", True),
        ("13 y", "school", False),
        ("70 y", None, False),
    ],
)
def test_near_an_edge_the_category_across_it_is_named(
    age: str, neighbour: str | None, ahead: bool
) -> None:
    found = at(age).neighbour

    assert (None if found is None else found.category.key) == neighbour
    assert found is None or found.ahead is ahead


def test_near_is_measured_on_the_axis_of_ages() -> None:
    edge = x_of(Age.parse("28 d"))

    assert edge - x_of(Age.parse("21 d")) > NEAR
    assert edge - x_of(Age.parse("22 d")) <= NEAR


def test_every_alarm_condition_is_somewhere_exactly_once() -> None:
    found = at("7 mo")

    signs = [*found.first, *found.rest]
    told = [alarm.condition.key for sign in signs for alarm in (sign.low, sign.high)]
    told += [alarm.condition.key for alarm in (*found.first_events, *found.rest_events)]
    assert sorted(told) == sorted(ALARM_CONDITIONS)
    assert {sign.key for sign in signs} == VITAL_SIGNS.keys()


def test_a_category_chosen_without_an_age_shows_no_range_of_any_age() -> None:
    found = limits_of_category(PROFILE, "infant")

    assert found is not None
    assert found.age is None
    assert found.neighbour is None
    assert not any(sign.published for sign in (*found.first, *found.rest))


def test_there_is_no_category_of_another_name() -> None:
    assert limits_of_category(PROFILE, "grown-up") is None


@pytest.mark.parametrize(
    ("vital_sign", "age", "expected"),
    [
        ("heart-rate", "7 mo", (98, 168)),
        ("heart-rate", "0 d", (90, 164)),
        ("pulse-rate", "7 mo", (98, 168)),
        ("respiratory-rate", "17 y", (11, 22)),
        ("respiratory-rate", "18 y", None),
        ("spo2", "7 mo", None),
    ],
)
def test_the_published_range_is_that_of_exactly_this_age(
    vital_sign: str, age: str, expected: tuple[float, float] | None
) -> None:
    found = published_range(PUBLISHED, vital_sign, Age.parse(age))

    assert (None if found is None else (found.low, found.high)) == expected
    assert found is None or found.source == SOURCE


OXYGEN = {
    "key": "on-oxygen",
    "label": "On oxygen",
    "applies_to": ["neonate"],
    "settings": {"spo2-high": {"state": "on", "limit": 94}},
}
WITH_OXYGEN = profile_from_document(
    a_document() | {"agency": "Skerry Ambulance", "circumstances": [OXYGEN]}
)


def spo2_high(found: LimitsAt | None) -> StatedAlarm:
    assert found is not None
    return next(sign.high for sign in found.first if sign.key == "spo2")


def test_a_chosen_circumstance_changes_what_it_names_and_nothing_else() -> None:
    plain = limits_at(WITH_OXYGEN, Age.parse("3 d"))
    chosen = limits_at(WITH_OXYGEN, Age.parse("3 d"), "on-oxygen")

    assert plain is not None
    assert chosen is not None
    assert (plain.chosen, chosen.chosen and chosen.chosen.key) == (None, "on-oxygen")
    assert not spo2_high(plain).changed
    assert spo2_high(chosen).changed
    assert isinstance(spo2_high(chosen).setting, On)
    before, after = ([sign for sign in one.first if sign.key != "spo2"] for one in (plain, chosen))
    assert before == after


@pytest.mark.parametrize(("category", "offered"), [("neonate", ["on-oxygen"]), ("infant", [])])
def test_only_the_circumstances_of_the_category_are_offered(
    category: str, offered: list[str]
) -> None:
    found = limits_of_category(WITH_OXYGEN, category)

    assert found is not None
    assert [one.key for one in found.offered] == offered


@pytest.mark.parametrize("circumstance", ["on-oxygen", "on-fire"])
def test_a_circumstance_of_another_category_is_never_answered_with_plain_limits(
    circumstance: str,
) -> None:
    with pytest.raises(NotFound):
        limits_of_category(WITH_OXYGEN, "infant", circumstance)
