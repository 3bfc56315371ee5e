from copy import deepcopy
from typing import Any

import pytest

from app.domain.errors import NotFound, Refused
from app.domain.model_edits import (
    grid_changes,
    model_in,
    with_copied_grid,
    with_facts,
    with_grid,
    with_model,
    with_preset,
    without_model,
    without_preset,
)
from app.exchange.profile_json import profile_from_document
from tests.worked_profiles import five_categories

RATE = {"from": 30, "to": 200, "step": 5, "can_be_off": True}
GAS = {"from": 0, "to": 99, "step": 1, "can_be_off": True}


def with_dunlin() -> dict[str, Any]:
    presets = {"A": {"carries": "infant"}, "B": {"carries": "child"}, "C": {"carries": "adult"}}
    grid = {"heart-rate-low": RATE, "etco2-high": GAS, "inspired-co2-high": GAS}
    model = {"presets": presets, "grid": grid, "etco2_unit": "mm[Hg]", "retention_min": 2}
    return {**five_categories(), "models": {"dunlin": model}}


def test_a_new_model_says_nothing_yet_and_the_old_document_stays_as_it_was() -> None:
    before = five_categories()
    kept = deepcopy(before)

    after = with_model(before, "dunlin")

    assert profile_from_document(after).models["dunlin"].presets == ()
    assert before == kept


def test_a_model_is_not_added_twice() -> None:
    with pytest.raises(Refused, match="key: stands already"):
        with_model(with_dunlin(), "dunlin")


def test_the_last_model_takes_the_whole_part_with_it() -> None:
    assert "models" not in without_model(with_dunlin(), "dunlin")


@pytest.mark.parametrize(
    "edit",
    [
        lambda document: without_model(document, "petrel"),
        lambda document: with_facts(document, "petrel", etco2_unit="kPa", retention_min=None),
        lambda document: with_preset(document, "petrel", "A", {"carries": "infant"}),
        lambda document: with_preset(document, "dunlin", "X", {"carries": "infant"}, was="Z"),
        lambda document: without_preset(document, "dunlin", "Z"),
        lambda document: with_grid(document, "petrel", {}),
    ],
    ids=["model", "facts", "preset", "renamed", "removed", "grid"],
)
def test_what_is_not_there_is_not_found(edit: Any) -> None:
    with pytest.raises(NotFound):
        edit(with_dunlin())


def test_another_unit_clears_what_co2_can_be_set_to_and_nothing_else() -> None:
    after = with_facts(with_dunlin(), "dunlin", etco2_unit="kPa", retention_min=None)

    model = model_in(after, "dunlin")
    assert model["grid"] == {"heart-rate-low": RATE}
    assert model["etco2_unit"] == "kPa"
    assert "retention_min" not in model


def test_the_same_unit_clears_nothing() -> None:
    after = with_facts(with_dunlin(), "dunlin", etco2_unit="mm[Hg]", retention_min=0.5)

    assert set(model_in(after, "dunlin")["grid"]) == set(model_in(with_dunlin(), "dunlin")["grid"])
    assert model_in(after, "dunlin")["retention_min"] == 0.5


def test_a_preset_gets_another_name_in_its_place() -> None:
    changed = {"carries": "child", "serves": ["young-child", "child"]}

    after = with_preset(with_dunlin(), "dunlin", "MIDDLE", changed, was="B")

    assert list(model_in(after, "dunlin")["presets"]) == ["A", "MIDDLE", "C"]
    assert model_in(after, "dunlin")["presets"]["MIDDLE"] == changed


@pytest.mark.parametrize("was", [None, "B"])
def test_no_preset_takes_the_name_of_another(was: str | None) -> None:
    with pytest.raises(Refused, match="name: stands already"):
        with_preset(with_dunlin(), "dunlin", "A", {"carries": "child"}, was=was)


def test_a_preset_is_removed_and_the_others_stay() -> None:
    after = without_preset(with_dunlin(), "dunlin", "B")

    assert list(model_in(after, "dunlin")["presets"]) == ["A", "C"]


def test_a_copied_grid_brings_its_unit_and_leaves_the_presets() -> None:
    source = {"presets": {"Z": {"carries": "adult"}}, "grid": {"etco2-high": GAS}}

    after = with_copied_grid(with_dunlin(), "dunlin", {**source, "etco2_unit": "kPa"})

    model = model_in(after, "dunlin")
    assert model["grid"] == {"etco2-high": GAS}
    assert model["etco2_unit"] == "kPa"
    assert list(model["presets"]) == ["A", "B", "C"]


def test_only_what_would_change_is_told_also_what_would_be_cleared() -> None:
    wider = {**RATE, "to": 250}

    found = grid_changes(
        {"heart-rate-low": RATE, "etco2-high": GAS, "spo2-low": GAS},
        {"heart-rate-low": wider, "spo2-low": GAS},
    )

    told = [(one.alarm.key, one.before, one.after) for one in found]
    assert told == [("heart-rate-low", RATE, wider), ("etco2-high", GAS, None)]
