from typing import Any

import pytest

from app.domain.comparison import Direction
from app.domain.overlays import OverlaidAlarm, findings_under, overlaid_alarms
from app.domain.rules import check
from app.exchange.profile_json import profile_from_document
from tests.worked_profiles import five_categories, on

OFF = {"state": "off", "reason": "tried"}


def overlaid(setting: dict[str, Any], alarm: str = "spo2-low") -> dict[str, OverlaidAlarm]:
    """Ordinarily 90 in the child and 88 in the adult."""
    circumstance = {
        "key": "hypercapnia-risk", "applies_to": ["child", "adult"], "settings": {alarm: setting},
    }  # fmt: skip
    profile = profile_from_document({**five_categories(), "circumstances": [circumstance]})
    alarms = overlaid_alarms(profile, profile.circumstances[0])
    return {one.alarm.key: one for one in alarms}


@pytest.mark.parametrize(
    ("setting", "directions"),
    [
        (on(86), [Direction.LOOSER, Direction.LOOSER]),
        (on(87), [Direction.LOOSER, Direction.LOOSER]),
        (on(88), [Direction.LOOSER, None]),
        (on(89), [Direction.LOOSER, Direction.TIGHTER]),
        (on(90), [None, Direction.TIGHTER]),
        (on(91), [Direction.TIGHTER, Direction.TIGHTER]),
        (OFF, [Direction.SWITCHED_OFF, Direction.SWITCHED_OFF]),
    ],
)
def test_each_category_is_told_what_the_overlay_does_to_it(
    setting: dict[str, Any], directions: list[Direction | None]
) -> None:
    found = overlaid(setting)["spo2-low"].categories

    assert [one.category.key for one in found] == ["child", "adult"]
    assert [one.change.direction if one.change else None for one in found] == directions


def test_the_consequence_stands_before_any_number() -> None:
    change = overlaid(on(86))["spo2-low"].categories[1].change

    assert change is not None
    assert "SpO₂ can fall from 88 to 86 % unannounced" in change.sentence


def test_an_alarm_that_the_category_leaves_blank_begins_to_sound() -> None:
    change = overlaid(on(92), "spo2-high")["spo2-high"].categories[1].change

    assert change is not None
    assert change.direction is Direction.SWITCHED_ON


def test_every_other_alarm_stays_as_it_is() -> None:
    others = [one for key, one in overlaid(on(86)).items() if key != "spo2-low"]

    assert {one.overlay for one in others} == {None}
    assert {category.change for one in others for category in one.categories} == {None}


def test_only_what_arises_under_the_circumstance_is_found_there() -> None:
    circumstance = {
        "key": "hypercapnia-risk", "applies_to": ["adult"], "settings": {"spo2-low": on(80)},
    }  # fmt: skip
    profile = profile_from_document({**five_categories(), "circumstances": [circumstance]})

    found = findings_under(check(profile), "hypercapnia-risk")

    assert found
    assert {one.category for one in found} == {"adult"}
    assert "silent-gap" in {one.rule for one in found}
    assert findings_under(check(profile), "paced") == ()
