from copy import deepcopy
from typing import Any

import pytest

from app.demo.profile import document
from app.domain.documents import with_category, with_setting, without_category
from app.domain.redline_models import model_changes
from app.domain.redline_voids import ModelVoid, void_cards, void_models
from app.exchange.profile_json import profile_from_document
from tests.worked_profiles import five_categories, on

DEMO = document(2)


def voids(after: dict[str, Any], model: str, before: dict[str, Any] | None = None) -> ModelVoid:
    profiles = [profile_from_document(one) for one in (before or DEMO, after)]
    (found,) = void_models(profiles[0], profiles[1], [model])
    return found


def limit(category: str, alarm: str, number: float, **more: Any) -> dict[str, Any]:
    setting = DEMO["settings"][category][alarm] | {"limit": number} | more
    return with_setting(DEMO, category, alarm, setting)


@pytest.mark.parametrize(
    ("model", "limit_after", "presets"),
    [
        ("dunlin", 151, ["CHILD"]),  # steps of 1
        ("turnstone", 151, []),  # steps of 5: high limits are rounded down
        ("turnstone", 154, []),
        ("turnstone", 155, ["Junior"]),
        ("petrel", 151, []),  # steps of 2 from 20
        ("petrel", 152, ["MIDDLE"]),
    ],
)
def test_a_device_is_set_again_where_its_own_step_shows_another_value(
    model: str, limit_after: int, presets: list[str]
) -> None:
    found = voids(limit("child", "heart-rate-high", limit_after), model)

    assert [one.preset for one in found.presets] == presets
    assert found.stays == (not presets)


def test_a_preset_that_holds_another_category_shows_nothing_of_the_change() -> None:
    found = voids(limit("young-child", "heart-rate-high", 165), "petrel")

    assert found.stays


@pytest.mark.parametrize(
    "more", [{"reason": "read again"}, {"source": "another"}, {"latitude": None}]
)
def test_what_stands_on_paper_alone_makes_no_device_void(more: dict[str, Any]) -> None:
    setting = {**DEMO["settings"]["adult"]["spo2-low"], **more}
    setting = {key: value for key, value in setting.items() if value is not None}

    assert voids(with_setting(DEMO, "adult", "spo2-low", setting), "dunlin").stays


def test_another_unit_makes_a_device_void_only_where_it_may_hold_another_value() -> None:
    """60 mmHg are 7.999 kPa: there 7.9 and 8.0 both hold, of 8.0 kPa only the latter."""
    in_kpa = limit("adult", "etco2-high", 8.0, unit="kPa")

    assert not voids(in_kpa, "turnstone").stays
    assert voids(DEMO, "turnstone", in_kpa).stays
    assert voids(in_kpa, "dunlin").stays


def test_delay_and_priority_are_set_on_a_device_too() -> None:
    found = voids(limit("adult", "heart-rate-high", 140, delay_s=5), "dunlin")

    assert [(one.preset, [alarm.key for alarm in one.alarms]) for one in found.presets] == [
        ("ADULT", ["heart-rate-high"])
    ]


def test_an_option_is_set_on_every_model() -> None:
    after = deepcopy(DEMO)
    after["options"]["longest-pause-s"]["value"] = 90

    found = voids(after, "petrel")

    assert (found.options, found.presets, found.stays) == (("Longest pause",), (), False)


def test_a_model_that_nobody_described_holds_a_preset_a_category() -> None:
    found = voids(limit("child", "heart-rate-high", 151), "wagtail")

    assert [one.preset for one in found.presets] == ["child"]


def test_an_alarm_without_a_policy_need_not_be_set() -> None:
    after = with_setting(DEMO, "child", "heart-rate-high", {"state": "no-policy"})

    assert voids(after, "dunlin").stays


def test_presets_that_come_and_go_are_told() -> None:
    after = deepcopy(DEMO)
    presets = after["models"]["dunlin"]["presets"]
    presets["TEEN"] = presets.pop("CHILD")
    presets["SMALL CHILD"]["serves"] = ["young-child", "infant"]
    profiles = [profile_from_document(one) for one in (DEMO, after)]

    found = voids(after, "dunlin")
    (told,) = model_changes(*profiles)

    assert [(one.preset, one.new) for one in found.presets] == [("TEEN", True)]
    assert found.gone == ("CHILD",)
    assert told.sentences == (
        "SMALL CHILD is used for Young child, Infant instead of Young child.",
        "TEEN is new: it holds the values of Child, for Child.",
        "CHILD is gone; it held the values of Child.",
    )


def test_what_a_model_can_do_is_compared() -> None:
    after = deepcopy(DEMO)
    petrel = after["models"]["petrel"]
    petrel["presets"]["SMALL"]["carries"] = "neonate"
    petrel["grid"]["heart-rate-high"] |= {"step": 5, "can_be_off": False}
    petrel["etco2_unit"], petrel["retention_min"] = "kPa", 3
    del after["models"]["turnstone"]
    profiles = [profile_from_document(one) for one in (DEMO, after)]

    told = {one.model: one.sentences for one in model_changes(*profiles)}

    assert told == {
        "petrel": (
            "SMALL holds the values of Neonate instead of Infant.",
            "Heart rate high can be set from 20 to 240 /min in steps of 5, never off; "
            "before: from 20 to 240 /min in steps of 2, and off.",
            "It shows EtCO₂ in kPa instead of mmHg.",
            "Switched off, it keeps what was set by hand for 3 min instead of 1 min.",
        ),
        "turnstone": ("It is no longer described.",),
    }


# Cards


def cards(after: dict[str, Any], before: dict[str, Any] | None = None) -> dict[str, Any]:
    profiles = [profile_from_document(one) for one in (before or DEMO, after)]
    return {one.category: (one.why, one.models) for one in void_cards(*profiles)}


def test_no_card_is_void_where_words_alone_change() -> None:
    assert cards(limit("child", "heart-rate-high", 150, reason="read again")) == {}


def test_a_changed_limit_makes_every_card_of_its_category_void() -> None:
    assert cards(limit("child", "heart-rate-high", 151)) == {"Child": ("its limits change", ())}


def test_a_lent_preset_makes_the_cards_of_that_model_void_for_the_others_too() -> None:
    found = cards(limit("infant", "heart-rate-high", 170))

    assert found == {
        "Infant": ("its limits change", ()),
        "Neonate": ("other values are set by hand", ("petrel",)),
        "Young child": ("other values are set by hand", ("petrel",)),
    }


def test_a_circumstance_makes_the_cards_of_its_categories_void() -> None:
    after = deepcopy(DEMO)
    after["circumstances"][1]["settings"]["spo2-low"]["limit"] = 84

    assert cards(after) == {"Adult": ("its circumstances change", ())}


def test_moved_new_and_lost_categories_make_cards_void() -> None:
    before = five_categories()
    after = without_category(before, "neonate")
    after = with_category(after, {"key": "infant", "label": "Baby", "from": "0 d", "to": "1 y"})
    after = with_category(after, {"key": "old", "label": "Old", "from": "65 y", "to": None})
    after = with_setting(after, "old", "heart-rate-low", on(45))

    assert cards(after, before) == {
        "Baby": ("it holds 0 d to 1 y; before: Infant, 28 d to 1 y", ()),
        "Old": ("it is new", ()),
        "Neonate": ("the category is gone", ()),
    }
