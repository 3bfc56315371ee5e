from decimal import Decimal
from typing import Any

import pytest

from app.domain.by_hand import CategoryOnModel, ModelSetting, by_hand_on
from app.domain.settings_of_alarms import On
from app.exchange.profile_json import profile_from_document
from tests.builders import a_document

OWN = {"carries": "adult", "serves": ["adult"]}


def on_model(category: str, presets: dict[str, Any], **model: Any) -> CategoryOnModel:
    document = a_document() | {"models": {"petrel": {"presets": presets, **model}}}
    found = by_hand_on(profile_from_document(document | {"agency": "Skerry"}), "petrel")
    return next(one for one in found if one.category.key == category)


def of(found: tuple[ModelSetting, ...], alarm: str) -> ModelSetting:
    return next(one for one in found if one.condition.key == alarm)


def limit(setting: object) -> Decimal | None:
    assert isinstance(setting, On)
    return setting.limit


def test_a_preset_with_its_own_values_leaves_nothing_to_be_set() -> None:
    found = on_model("adult", {"LARGE": OWN})

    assert found.preset == "LARGE"
    assert found.by_hand == found.rounded == ()


def test_where_a_preset_lends_another_categorys_values_only_what_differs_is_set() -> None:
    lent = {"SMALL": {"carries": "infant", "serves": ["neonate", "infant"]}}

    found = on_model("neonate", lent)

    assert (found.preset, found.carries and found.carries.key) == ("SMALL", "infant")
    told = of(found.by_hand, "heart-rate-low")
    assert [limit(told.held), limit(told.to_set)] == [90, 100]
    assert "apnoea" not in {one.condition.key for one in found.by_hand}  # 20 s in both


def test_a_category_without_a_preset_is_set_whole() -> None:
    found = on_model("infant", {"LARGE": OWN})

    assert found.preset is None
    assert len(found.by_hand) == 12  # eleven on, one off; the rest has no policy
    assert all(one.held is None for one in found.by_hand)


def test_of_two_presets_that_serve_a_category_its_own_is_taken() -> None:
    both = {"ANY": {"carries": "infant", "serves": ["infant", "adult"]}, "LARGE": OWN}

    assert on_model("adult", both).preset == "LARGE"


@pytest.mark.parametrize(
    ("alarm", "step", "expected"),
    [
        ("heart-rate-low", 5, None),  # 50 lies on the step
        ("heart-rate-low", 20, 60),  # up, toward the earlier alarm
        ("heart-rate-high", 20, 120),  # 130 down
    ],
)
def test_a_step_that_cannot_hold_a_limit_shows_the_earlier_one(
    alarm: str, step: int, expected: int | None
) -> None:
    grid = {alarm: {"from": 20, "to": 240, "step": step}}

    found = on_model("adult", {"LARGE": OWN}, grid=grid)

    assert found.by_hand == ()
    assert [limit(one.to_set) for one in found.rounded] == ([] if expected is None else [expected])


def test_a_limit_in_another_unit_is_told_as_the_device_shows_it() -> None:
    document = a_document()
    document["settings"]["adult"]["etco2-high"] = {"state": "on", "limit": 50}
    document |= {
        "agency": "Skerry",
        "models": {"turnstone": {"presets": {"L": OWN}, "etco2_unit": "kPa"}},
    }

    (told,) = by_hand_on(profile_from_document(document), "turnstone")[-1].rounded

    assert isinstance(told.to_set, On)
    assert (told.to_set.limit, told.to_set.unit) == (Decimal("6.6"), "kPa")


@pytest.mark.parametrize(
    ("alarm", "grid"),
    [
        ("heart-rate-high", {"from": 20, "to": 125, "step": 1}),
        ("spo2-high", {"from": 50, "to": 100, "step": 1, "can_be_off": False}),
    ],
)
def test_what_the_model_does_not_offer_is_said_even_on_its_own_preset(
    alarm: str, grid: dict[str, Any]
) -> None:
    found = on_model("adult", {"LARGE": OWN}, grid={alarm: grid})

    assert [(one.condition.key, one.settable) for one in found.by_hand] == [(alarm, False)]


def test_of_a_model_that_the_policy_does_not_know_nothing_is_said() -> None:
    assert by_hand_on(profile_from_document(a_document() | {"agency": "S"}), "petrel") == ()
