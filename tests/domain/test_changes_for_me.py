from copy import deepcopy
from typing import Any

from app.domain.changes_for_me import ChangesForMe, changes_for_me
from app.domain.redline import redline
from app.exchange.profile_json import profile_from_document
from tests.builders import a_document
from tests.crew_documents import PETREL

BEFORE = a_document() | {"agency": "Skerry"}


def changed(after: dict[str, Any], category: str = "", model: str = "") -> ChangesForMe:
    old, new = profile_from_document(BEFORE), profile_from_document(after)
    return changes_for_me(redline(old, new), category=new.category(category), model=model)


def with_limits(**limits: float) -> dict[str, Any]:
    found = a_document({"heart-rate-high": 165}) | {"agency": "Skerry"}
    found["settings"]["adult"]["spo2-low"]["limit"] = limits["adult_spo2"]
    return found


def test_a_crew_is_told_of_its_own_category_alone() -> None:
    after = with_limits(adult_spo2=91)

    assert len(changed(after).changes) == 2
    [only] = changed(after, "adult").changes
    assert "SpO₂" in only.sentence
    assert changed(after, "neonate").empty


def test_a_change_at_an_edge_concerns_the_category_that_begins_there_only() -> None:
    after = with_limits(adult_spo2=91)

    assert [one.alarm.key for one in changed(after, "preschool").changes if one.alarm] == [
        "heart-rate-high"
    ]
    assert changed(after, "school").empty


def test_where_only_words_change_a_crew_is_told_nothing() -> None:
    after = deepcopy(BEFORE)
    after["settings"]["adult"]["spo2-low"]["reason"] = "said better"

    assert changed(after).empty


def test_a_moved_edge_concerns_both_its_sides() -> None:
    after = deepcopy(BEFORE)
    by_key = {one["key"]: one for one in after["categories"]}
    by_key["school"]["to"] = by_key["adult"]["from"] = "14 y"

    assert changed(after, "school").hands
    assert changed(after, "adult").hands
    assert not changed(after, "infant").hands


def test_another_model_is_left_out() -> None:
    after = deepcopy(BEFORE) | {"models": {"petrel": PETREL}}

    assert [one.model for one in changed(after, model="petrel").models] == ["petrel"]
    assert not changed(after, model="dunlin").models
