from collections.abc import Callable
from copy import deepcopy
from typing import Any

import pytest

from app.domain.category_edits import (
    Split,
    in_age_order,
    removed,
    uses_of,
    with_edge,
    with_new_key,
    with_split,
)
from app.domain.errors import NotFound, Refused
from app.domain.patient_categories import prove_scheme
from app.exchange.profile_json import profile_from_document
from tests.worked_profiles import five_categories, on


def a_policy() -> dict[str, Any]:
    """Five categories; the young child is named wherever a category can be named."""
    return {
        **five_categories(),
        "circumstances": [
            {"key": "on-oxygen", "applies_to": ["infant", "young-child"], "settings": {}}
        ],
        "options": {"start-up-category": {"value": "young-child"}},
        "models": {
            "dunlin": {"presets": {"TODDLER": {"carries": "young-child"}}},
            "petrel": {"presets": {"SMALL": {"carries": "infant", "serves": ["young-child"]}}},
        },
    }


def spans(document: dict[str, Any]) -> list[tuple[str, str, str | None]]:
    return [(one["key"], one["from"], one["to"]) for one in document["categories"]]


def a_split(at: str = "3 y", *, copied: bool = True) -> Split:
    return Split(at, "pre-school", "Pre-school", copied)


def test_a_split_leaves_no_gap_and_no_overlap() -> None:
    before = a_policy()
    kept = deepcopy(before)

    after = with_split(before, "young-child", a_split())

    assert spans(after)[2:4] == [("young-child", "1 y", "3 y"), ("pre-school", "3 y", "5 y")]
    assert prove_scheme(profile_from_document(after).categories) == []
    assert before == kept


def test_a_copied_part_says_the_same_and_stands_wherever_the_whole_one_stood() -> None:
    after = with_split(a_policy(), "young-child", a_split())

    assert after["settings"]["pre-school"] == after["settings"]["young-child"]
    assert after["circumstances"][0]["applies_to"] == ["infant", "young-child", "pre-school"]
    models = after["models"]
    assert models["dunlin"]["presets"]["TODDLER"]["serves"] == ["young-child", "pre-school"]
    assert models["petrel"]["presets"]["SMALL"]["serves"] == ["young-child", "pre-school"]


def test_a_copied_setting_is_one_of_its_own() -> None:
    after = with_split(a_policy(), "young-child", a_split())

    after["settings"]["pre-school"]["heart-rate-low"]["limit"] = 1

    assert after["settings"]["young-child"]["heart-rate-low"]["limit"] == 75


def test_a_blank_part_says_nothing_and_stands_nowhere() -> None:
    after = with_split(a_policy(), "young-child", a_split(copied=False))

    assert after["settings"]["pre-school"] == {}
    assert "pre-school" not in str([after["circumstances"], after["models"]])


@pytest.mark.parametrize(
    ("at", "taken"),
    [("1 y", False), ("13 mo", True), ("59 mo", True), ("5 y", False), ("6 y", False)],
)
def test_a_category_is_split_strictly_inside(at: str, *, taken: bool) -> None:
    try:
        with_split(a_policy(), "young-child", a_split(at))
        refused = False
    except Refused as told:
        refused = told.faults[0].column == "at"

    assert refused is not taken


def test_an_open_category_is_split_at_any_later_age() -> None:
    after = with_split(a_policy(), "adult", Split("65 y", "old", "Old", copied=True))

    assert spans(after)[-2:] == [("adult", "13 y", "65 y"), ("old", "65 y", None)]


def test_a_key_that_is_taken_is_refused() -> None:
    with pytest.raises(Refused, match="stands already"):
        with_split(a_policy(), "young-child", Split("3 y", "adult", "Adult", copied=True))
    with pytest.raises(Refused, match="stands already"):
        with_new_key(a_policy(), "young-child", "adult")


def test_an_edge_moves_on_both_sides_at_once() -> None:
    after = with_edge(a_policy(), "infant", "young-child", "18 mo")

    assert spans(after)[1:3] == [("infant", "28 d", "18 mo"), ("young-child", "18 mo", "5 y")]
    assert prove_scheme(profile_from_document(after).categories) == []


@pytest.mark.parametrize("at", ["28 d", "5 y", "5", ""])
def test_an_edge_never_takes_every_age_from_a_neighbour(at: str) -> None:
    with pytest.raises(Refused) as refused:
        with_edge(a_policy(), "infant", "young-child", at)

    assert refused.value.faults[0].column == "at"


@pytest.mark.parametrize("end", ["11 mo", "14 mo"])
def test_moving_an_edge_closes_a_gap_and_an_overlap(end: str) -> None:
    document = a_policy()
    document["categories"][1]["to"] = end

    after = with_edge(document, "infant", "young-child", "1 y")

    assert prove_scheme(profile_from_document(after).categories) == []


def test_a_new_key_is_followed_by_everything_that_named_the_old_one() -> None:
    after = with_new_key(a_policy(), "young-child", "toddler")

    assert "young-child" not in str(
        {**after, "categories": [one["key"] for one in after["categories"]]}
    )
    assert after["settings"]["toddler"]["heart-rate-low"] == on(75)
    assert list(after["settings"]) == ["neonate", "infant", "toddler", "child", "adult"]
    assert after["circumstances"][0]["applies_to"] == ["infant", "toddler"]
    assert after["models"]["dunlin"]["presets"]["TODDLER"] == {"carries": "toddler"}
    assert after["models"]["petrel"]["presets"]["SMALL"]["serves"] == ["toddler"]
    assert after["options"]["start-up-category"]["value"] == "toddler"
    assert profile_from_document(after).category("toddler") is not None


def test_the_same_key_changes_nothing() -> None:
    assert with_new_key(a_policy(), "infant", "infant") == a_policy()


def test_a_category_that_something_needs_is_not_removed() -> None:
    with pytest.raises(Refused) as refused:
        removed(a_policy(), "young-child")

    assert [fault.reason for fault in refused.value.faults] == [
        "dunlin TODDLER carries it: change that first",
        "petrel SMALL serves it: change that first",
        "devices start up in it: change that first",
    ]


def test_a_category_that_nothing_needs_is_removed() -> None:
    assert uses_of(a_policy(), "child") == []
    assert [key for key, *_ in spans(removed(a_policy(), "child"))] == [
        "neonate", "infant", "young-child", "adult",
    ]  # fmt: skip


def test_categories_stand_in_the_order_of_age() -> None:
    document = a_policy()
    document["categories"].reverse()

    assert spans(in_age_order(document)) == spans(a_policy())


def test_an_age_that_cannot_be_read_is_left_to_whoever_reads_next() -> None:
    document = a_policy()
    document["categories"][4]["from"] = "old"

    assert in_age_order(document) == document


@pytest.mark.parametrize("key", ["giant", ""])
def test_a_category_that_is_not_there_is_not_found(key: str) -> None:
    edits: tuple[Callable[[], object], ...] = (
        lambda: with_split(a_policy(), key, a_split()),
        lambda: with_edge(a_policy(), key, "adult", "3 y"),
        lambda: with_new_key(a_policy(), key, "new"),
        lambda: removed(a_policy(), key),
    )
    for edit in edits:
        with pytest.raises(NotFound):
            edit()
