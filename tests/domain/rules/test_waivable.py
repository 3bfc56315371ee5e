"""What is waived is the setting: each unsafe finding holds the settings it was found in, so that
the waiver of one never covers another."""

from typing import Any

import pytest

from app.domain.findings import Finding, Severity
from app.domain.outer_bounds import OuterBounds, bound
from app.domain.rules import check
from app.domain.waivers import finding_key
from tests.domain.rules.questions import NO_POLICY, NOT_FITTED, OFF, found_by, profile_of
from tests.worked_profiles import on


def free(limit: float, end: float, **more: Any) -> dict[str, Any]:
    return on(limit, latitude={"from": limit, "to": end, "off_by": "nobody"}, **more)


def deep(limit: float, deeper: float, **more: Any) -> dict[str, Any]:
    return on(limit, deep={"limit": deeper, "priority": "high", "delay_s": 5}, **more)


BOTH = {"heart-rate-high": on(165), "pulse-rate-high": on(165)}
ARREST, ARREST_LATE = on(None, priority="medium"), on(None, priority="low")
VF, VT = "ventricular-fibrillation", "ventricular-tachycardia"
HIGH = on(None, priority="high")
ORDER = {"spo2-low": on(95), "spo2-high": on(95)}


def unsafe(rule: str, settings: dict[str, Any], **more: Any) -> list[Finding]:
    found = check(profile_of(settings, **more))
    return [one for one in found if one.rule == rule and one.severity is Severity.UNSAFE]


@pytest.mark.parametrize(
    ("rule", "waived", "edited"),
    [
        # two alarms that guard the same danger: the one that still guards more hid the other
        ("silent-gap", BOTH, BOTH | {"heart-rate-high": on(190)}),
        ("silent-gap", BOTH, BOTH | {"heart-rate-high": OFF}),
        ("silent-gap", BOTH, BOTH | {"pulse-rate-high": NO_POLICY}),
        ("silent-gap", BOTH, BOTH | {"heart-rate-high": on(165, priority="low")}),
        ("silent-gap", BOTH, BOTH | {"heart-rate-high": on(165, delay_s=10)}),
        ("silent-gap", BOTH, BOTH | {"heart-rate-high": on(165, latching=True)}),
        ("silent-gap", BOTH, BOTH | {"heart-rate-high": deep(165, 170)}),
        ("silent-gap", BOTH, BOTH | {"heart-rate-high": free(165, 180)}),
        ("silent-gap", {"spo2-low": OFF}, {"spo2-low": NO_POLICY}),
        ("life-threat-off", {"asystole": ARREST}, {"asystole": ARREST_LATE}),
        ("life-threat-off", {"asystole": ARREST}, {"asystole": OFF}),
        ("life-threat-off", {"asystole": OFF}, {"asystole": NO_POLICY}),
        # off while its sister sounds, then while nothing does
        ("life-threat-off", {VF: OFF, VT: HIGH}, {VF: OFF, VT: NOT_FITTED}),
        (
            "life-threat-off",
            {"apnoea": OFF, "airway-apnoea": OFF},
            {"apnoea": OFF, "airway-apnoea": NOT_FITTED},
        ),
        (
            "life-threat-off",
            {"apnoea": on(20), "airway-apnoea": OFF, "etco2-high": on(60)},
            {"apnoea": on(30), "airway-apnoea": OFF, "etco2-high": on(60)},
        ),
        ("latitude-breach", {"apnoea": free(20, 40)}, {"apnoea": free(25, 40)}),
        ("latitude-breach", {"apnoea": free(20, 40)}, {"apnoea": free(20, 41)}),
        ("latitude-breach", {"apnoea": free(20, 40)}, {"apnoea": free(20, 40, priority="low")}),
        ("delay-long", {"spo2-low": on(90, delay_s=31)}, {"spo2-low": on(88, delay_s=31)}),
        ("delay-long", {"spo2-low": on(90, delay_s=31)}, {"spo2-low": on(90, delay_s=32)}),
        ("limit-order", ORDER, ORDER | {"spo2-high": on(94)}),
        ("limit-order", ORDER, ORDER | {"spo2-high": on(95, priority="low")}),
        ("limit-order", {"spo2-low": deep(90, 91)}, {"spo2-low": deep(90, 92)}),
    ],
)
def test_a_waiver_of_a_setting_does_not_cover_another_one(
    rule: str, waived: dict[str, Any], edited: dict[str, Any]
) -> None:
    keys = {finding_key(one) for one in unsafe(rule, waived)}

    found = unsafe(rule, edited)

    assert keys
    assert found
    assert keys.isdisjoint(finding_key(one) for one in found)


@pytest.mark.parametrize(
    ("rule", "settings"),
    [
        ("silent-gap", BOTH),
        ("life-threat-off", {"asystole": OFF}),
        ("delay-long", {"spo2-low": on(90, delay_s=31)}),
        ("limit-order", ORDER),
        ("latitude-breach", {"apnoea": free(20, 40)}),
    ],
)
def test_what_another_alarm_says_or_why_leaves_the_waiver_as_it_is(
    rule: str, settings: dict[str, Any]
) -> None:
    (found,) = unsafe(rule, settings)
    explained = {
        alarm: setting | {"reason": "in other words", "source": "elsewhere"}
        for alarm, setting in settings.items()
    }

    (again,) = unsafe(rule, explained | {"etco2-low": on(30)})

    assert finding_key(again) == finding_key(found)


@pytest.mark.parametrize(
    ("rule", "settings"),
    [
        ("life-threat-off", {"asystole": OFF}),
        ("delay-long", {"temperature-high": on(39, delay_s=31)}),
        ("limit-order", ORDER),
    ],
)
def test_a_waiver_for_one_age_does_not_cover_more(rule: str, settings: dict[str, Any]) -> None:
    (narrow,) = unsafe(rule, settings, ages=("5 y", "8 y"))
    (wide,) = unsafe(rule, settings, ages=("1 y", "8 y"))

    assert finding_key(narrow) != finding_key(wide)


@pytest.mark.parametrize(("elder", "same"), [("45", True), ("46", False)])
def test_a_bound_that_moves_where_the_gap_is_not_widest_makes_it_another(
    elder: str, *, same: bool
) -> None:
    def key(until_13: str) -> str:
        bounds = OuterBounds(
            "own",
            (
                bound("heart-rate", ("1 y", "5 y"), "low", "60", "danger", "J", "our board"),
                bound("heart-rate", ("5 y", "13 y"), "low", until_13, "danger", "J", "our board"),
            ),
        )
        profile = profile_of({"heart-rate-low": on(40)}, ("1 y", "13 y"))
        (found,) = found_by("silent-gap", profile, bounds)
        return finding_key(found)

    assert (key(elder) == key("45")) is same


def test_a_note_holds_no_settings_for_nobody_waives_it() -> None:
    (note,) = [
        one
        for one in check(profile_of({"heart-rate-low": on(60, delay_s=20)}))
        if one.rule == "delay-long"
    ]

    assert note.severity is Severity.NOTE
    assert "settings" not in note.measured
