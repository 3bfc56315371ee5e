from collections.abc import Callable
from copy import deepcopy
from typing import Any

import pytest

from app.domain.circumstance_edits import (
    circumstance_in,
    overlaid_setting_in,
    with_circumstance,
    with_overlaid_setting,
    with_reach,
    without_circumstance,
)
from app.domain.errors import NotFound, Refused
from app.exchange.profile_json import profile_from_document
from tests.worked_profiles import five_categories, on

OXYGEN: dict[str, Any] = {
    "key": "on-oxygen",
    "label": "On oxygen",
    "applies_to": ["neonate"],
    "settings": {"spo2-high": on(94)},
}


def a_policy() -> dict[str, Any]:
    return {**five_categories(), "circumstances": [deepcopy(OXYGEN)]}


def test_a_new_circumstance_comes_last_and_changes_nothing_yet() -> None:
    before = a_policy()
    kept = deepcopy(before)

    after = with_circumstance(before, "paced", label="Paced", applies_to=["adult"])

    assert after["circumstances"][1] == {
        "key": "paced", "label": "Paced", "applies_to": ["adult"], "settings": {},
    }  # fmt: skip
    assert before == kept
    assert profile_from_document(after).circumstances[1].settings == {}


def test_the_first_one_needs_no_list_to_stand_in() -> None:
    after = with_circumstance(five_categories(), "paced", label="", applies_to=["adult"])

    assert after["circumstances"] == [{"key": "paced", "applies_to": ["adult"], "settings": {}}]


def test_a_key_that_is_taken_is_refused() -> None:
    with pytest.raises(Refused, match="stands already"):
        with_circumstance(a_policy(), "on-oxygen", label="", applies_to=["adult"])


def test_label_and_reach_change_and_what_it_changes_stays() -> None:
    after = with_reach(a_policy(), "on-oxygen", label="Oxygen", applies_to=["infant"])

    assert circumstance_in(after, "on-oxygen") == {
        **OXYGEN, "label": "Oxygen", "applies_to": ["infant"],
    }  # fmt: skip


def test_without_a_label_the_key_speaks_again() -> None:
    after = with_reach(a_policy(), "on-oxygen", label="", applies_to=["infant"])

    assert profile_from_document(after).circumstances[0].label == "on-oxygen"


def test_the_last_one_leaves_no_trace() -> None:
    assert without_circumstance(a_policy(), "on-oxygen") == five_categories()


def test_one_of_two_leaves_the_other() -> None:
    two = with_circumstance(a_policy(), "paced", label="Paced", applies_to=["adult"])

    after = without_circumstance(two, "on-oxygen")

    assert [one["key"] for one in after["circumstances"]] == ["paced"]


def test_a_setting_is_overlaid_replaced_and_taken_back() -> None:
    changed = with_overlaid_setting(a_policy(), "on-oxygen", "spo2-low", on(90))
    assert overlaid_setting_in(changed, "on-oxygen", "spo2-low") == on(90)
    assert overlaid_setting_in(changed, "on-oxygen", "spo2-high") == on(94)

    again = with_overlaid_setting(changed, "on-oxygen", "spo2-low", on(88))
    assert overlaid_setting_in(again, "on-oxygen", "spo2-low") == on(88)

    back = with_overlaid_setting(again, "on-oxygen", "spo2-low", None)
    assert back == a_policy()


def test_a_circumstance_that_is_not_there_is_not_found() -> None:
    edits: tuple[Callable[[], object], ...] = (
        lambda: circumstance_in(five_categories(), "paced"),
        lambda: with_reach(a_policy(), "paced", label="", applies_to=["adult"]),
        lambda: without_circumstance(a_policy(), "paced"),
        lambda: overlaid_setting_in(a_policy(), "paced", "spo2-low"),
        lambda: with_overlaid_setting(a_policy(), "paced", "spo2-low", None),
    )
    for edit in edits:
        with pytest.raises(NotFound):
            edit()
