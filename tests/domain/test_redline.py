from copy import deepcopy
from typing import Any

import pytest

from app.domain.documents import with_category, with_setting, without_category
from app.domain.redline import Change, Redline, redline
from app.exchange.profile_json import profile_from_document
from tests.worked_profiles import five_categories, on

OFF = {"state": "off", "reason": "tried"}
DEEP = {"limit": 35, "priority": "high", "delay_s": 0}


def against(after: dict[str, Any], before: dict[str, Any] | None = None) -> Redline:
    return redline(profile_from_document(before or five_categories()), profile_from_document(after))


def only(alarm: str, setting: dict[str, Any] | None, *, was: dict[str, Any] | None) -> Change:
    before = with_setting(five_categories(), "adult", alarm, was)
    (change,) = against(with_setting(before, "adult", alarm, setting), before).changes
    return change


def test_the_same_policy_has_no_redline() -> None:
    assert against(five_categories()).empty


@pytest.mark.parametrize(
    ("alarm", "was", "now", "shift", "sentence"),
    [
        ("heart-rate-low", on(45), on(40), "looser",
         "Adult: Heart rate can fall from 45 to 40 /min unannounced."),
        ("heart-rate-low", on(45), on(50), "tighter",
         "Adult: Heart rate sounds already at 50 /min instead of 45."),
        ("heart-rate-high", on(140), on(150), "looser",
         "Adult: Heart rate can rise from 140 to 150 /min unannounced."),
        ("apnoea", on(20), on(30), "looser",
         "Adult: Apnoea sounds after 30 s instead of 20."),
        ("heart-rate-low", on(45), OFF, "looser", "Adult: Heart rate low no longer sounds."),
        ("heart-rate-low", on(45), None, "looser", "Adult: Heart rate low no longer sounds."),
        ("heart-rate-low", OFF, on(45), "tighter",
         "Adult: Heart rate low begins to sound below 45 /min."),
        ("etco2-high", None, on(6.5, unit="kPa"), "tighter",
         "Adult: EtCO₂ high begins to sound above 6.5 kPa."),
        ("asystole", None, on(None), "tighter", "Adult: Asystole begins to sound."),
        ("heart-rate-low", on(45), on(45, delay_s=10), "looser",
         "Adult: Heart rate low is looser: its limit stays."),
        ("heart-rate-low", on(45), on(45, priority="high"), "tighter",
         "Adult: Heart rate low is tighter: its limit stays."),
        ("heart-rate-low", on(45), on(45, reason="read again"), "other",
         "Adult: Heart rate low is written otherwise: its limit stays."),
        ("heart-rate-low", on(45), on(45, deep=DEEP), "tighter",
         "Adult: Heart rate low is tighter: its limit stays."),
        ("heart-rate-low", on(45, deep=DEEP), on(45), "looser",
         "Adult: Heart rate low is looser: its limit stays."),
        ("heart-rate-low", OFF, {"state": "no-policy"}, "other",
         "Adult: Heart rate low stays without a sound."),
    ],
)  # fmt: skip
def test_a_change_says_what_it_means(
    alarm: str,
    was: dict[str, Any] | None,
    now: dict[str, Any] | None,
    shift: str,
    sentence: str,
) -> None:
    change = only(alarm, now, was=was)

    assert (change.shift, change.sentence) == (shift, sentence)


def test_looser_comes_before_tighter_before_the_rest() -> None:
    after = deepcopy(five_categories())
    after["settings"]["neonate"]["heart-rate-low"]["reason"] = "read again"
    after["settings"]["infant"]["heart-rate-low"]["limit"] = 95
    after["settings"]["adult"]["heart-rate-low"]["limit"] = 40

    assert [change.shift for change in against(after).changes] == ["looser", "tighter", "other"]


def test_categories_that_came_went_or_moved_are_told() -> None:
    after = without_category(five_categories(), "neonate")
    after = with_category(after, {"key": "infant", "label": "Baby", "from": "0 d", "to": "1 y"})
    after = with_category(after, {"key": "old", "label": "Old", "from": "65 y", "to": None})

    bands = against(after).bands

    assert [(band.label, band.before is None, band.after is None) for band in bands] == [
        ("Baby", False, False),
        ("Old", True, False),
        ("Neonate", False, True),
    ]
