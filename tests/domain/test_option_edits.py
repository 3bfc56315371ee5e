from copy import deepcopy
from decimal import Decimal
from typing import Any

import pytest

from app.domain.errors import NotFound, Refused
from app.domain.option_edits import (
    check_number,
    choices_of,
    findings_of_option,
    is_typed,
    option_kind,
    with_option,
)
from app.domain.options import OPTIONS
from app.domain.rules import check
from app.exchange.profile_json import profile_from_document
from tests.worked_profiles import five_categories

PAUSE = {"value": 120, "reason": "long enough"}


def a_policy(**options: Any) -> dict[str, Any]:
    return {**five_categories(), "options": options}


def test_an_option_is_set_replaced_and_taken_back_without_a_trace() -> None:
    before = five_categories()
    kept = deepcopy(before)

    first = with_option(before, "longest-pause-s", PAUSE)
    second = with_option(first, "longest-pause-s", {"value": "permanent"})

    assert first["options"] == {"longest-pause-s": PAUSE}
    assert second["options"] == {"longest-pause-s": {"value": "permanent"}}
    assert with_option(second, "longest-pause-s", None) == kept == before


def test_taking_one_back_leaves_the_others() -> None:
    both = with_option(a_policy(**{"longest-pause-s": PAUSE}), "default-lead", {"value": "II"})

    assert with_option(both, "longest-pause-s", None)["options"] == {
        "default-lead": {"value": "II"}
    }


def test_an_option_that_nobody_knows_is_not_found() -> None:
    with pytest.raises(NotFound):
        with_option(five_categories(), "colour", {"value": "blue"})


@pytest.mark.parametrize(
    ("key", "choices", "typed"),
    [
        ("all-alarms-on-at-start", ["yes", "no"], False),
        ("start-up-category", ["neonate", "infant", "young-child", "child", "adult"], False),
        ("audio-volume", ["off"], True),
        ("longest-pause-s", ["permanent"], True),
        ("nibp-interval-min", ["manual"], True),
        ("spo2-averaging-s", [], True),
        ("etco2-unit", ["mm[Hg]", "kPa"], False),
        ("default-lead", [], True),
    ],
)
def test_each_kind_offers_its_own_choices(key: str, choices: list[str], *, typed: bool) -> None:
    categories = profile_from_document(five_categories()).categories

    kind = option_kind(key)

    assert [value for value, _ in choices_of(kind, categories)] == choices
    assert is_typed(kind) is typed


def test_every_option_can_be_set_somehow() -> None:
    categories = profile_from_document(five_categories()).categories

    assert all(choices_of(kind, categories) or is_typed(kind) for kind in OPTIONS.values())


@pytest.mark.parametrize(("number", "taken"), [(99, True), (100, True), (101, False)])
def test_a_share_is_at_most_the_whole(number: int, *, taken: bool) -> None:
    try:
        check_number(option_kind("audio-volume"), Decimal(number))
        refused = False
    except Refused:
        refused = True

    assert refused is not taken
    check_number(option_kind("longest-pause-s"), Decimal(number))


@pytest.mark.parametrize(
    ("key", "value", "rule"),
    [
        ("longest-pause-s", "permanent", "bound-breach"),
        ("audio-volume", 0, "bound-breach"),
        ("audio-volume", 1, None),
        ("nibp-interval-min", "manual", "nibp-stale"),
        ("nibp-interval-min", 10, None),
        ("nibp-interval-min", 11, "nibp-stale"),
    ],
)
def test_a_breach_is_found_at_its_option(key: str, value: Any, rule: str | None) -> None:
    findings = check(profile_from_document(a_policy(**{key: {"value": value}})))

    assert [one.rule for one in findings_of_option(findings, key)] == ([rule] if rule else [])
    assert findings_of_option(findings, "default-lead") == ()
