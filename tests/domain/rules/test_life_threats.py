from typing import Any

import pytest

from app.domain.findings import Severity
from tests.domain.rules.questions import NO_POLICY, NOT_FITTED, OFF, found_by, profile_of
from tests.worked_profiles import on

HIGH = on(None, priority="high")
ARRESTS = ("asystole", "ventricular-fibrillation", "ventricular-tachycardia")
BOTH_APNOEAS = ("apnoea", "airway-apnoea")


def threatened(settings: dict[str, Any], **more: Any) -> list[tuple[str, ...]]:
    return [f.alarms for f in found_by("life-threat-off", profile_of(settings, **more))]


@pytest.mark.parametrize("alarm", ARRESTS)
@pytest.mark.parametrize(
    ("setting", "threat"),
    [
        (HIGH, False),
        (on(None, priority="medium"), True),
        (on(None, priority="low"), True),
        (on(None, priority=None), False),  # a blank, told as such, and never signed
        (OFF, True),
        (NO_POLICY, True),
        (NOT_FITTED, False),
    ],
)
def test_an_arrest_sounds_at_high_priority(
    alarm: str, setting: dict[str, Any], threat: bool
) -> None:
    assert threatened({alarm: setting}) == ([(alarm,)] if threat else [])


def test_an_alarm_that_is_not_mentioned_is_told_as_unstated_and_not_here() -> None:
    assert threatened({}) == []


@pytest.mark.parametrize(
    ("fibrillation", "tachycardia", "threats"),
    [
        (HIGH, NOT_FITTED, []),  # one combined alarm counts for both
        (NOT_FITTED, HIGH, []),
        (HIGH, OFF, [("ventricular-tachycardia",)]),
        (OFF, NOT_FITTED, [("ventricular-fibrillation",)]),
    ],
)
def test_one_combined_alarm_counts_for_fibrillation_and_tachycardia(
    fibrillation: dict[str, Any], tachycardia: dict[str, Any], threats: list[tuple[str, ...]]
) -> None:
    settings = {
        "ventricular-fibrillation": fibrillation,
        "ventricular-tachycardia": tachycardia,
    }

    assert threatened(settings) == threats


@pytest.mark.parametrize(
    ("apnoea", "airway", "etco2", "threats"),
    [
        (on(20), on(20), on(60), []),
        (on(20), OFF, None, []),
        (OFF, on(20), None, []),
        (OFF, OFF, None, [BOTH_APNOEAS]),
        (OFF, NO_POLICY, None, [BOTH_APNOEAS]),
        (OFF, NOT_FITTED, None, [BOTH_APNOEAS]),  # nothing is left to sound
        (NOT_FITTED, OFF, None, [BOTH_APNOEAS]),
        (NOT_FITTED, NOT_FITTED, None, []),
        (OFF, None, None, []),
        # capnography fitted: its apnoea alarm may not be off
        (on(20), OFF, on(60), [("airway-apnoea",)]),
        (on(20), OFF, OFF, [("airway-apnoea",)]),
        (on(20), OFF, NOT_FITTED, []),
        (on(20), NO_POLICY, on(60), [("airway-apnoea",)]),
        (on(20), NOT_FITTED, on(60), []),
        (OFF, OFF, on(60), [BOTH_APNOEAS]),  # told once
    ],
)
def test_an_apnoea_alarm_is_left_and_capnography_keeps_its_own(
    apnoea: dict[str, Any],
    airway: dict[str, Any] | None,
    etco2: dict[str, Any] | None,
    threats: list[tuple[str, ...]],
) -> None:
    stated = {"apnoea": apnoea, "airway-apnoea": airway, "etco2-high": etco2}

    assert threatened({alarm: found for alarm, found in stated.items() if found}) == threats


def test_it_is_unsafe() -> None:
    (finding,) = found_by("life-threat-off", profile_of({"asystole": OFF}))

    assert finding.severity is Severity.UNSAFE
    assert finding.message == "Child: Asystole is off: an arrest can pass unannounced."


def test_a_circumstance_may_not_switch_it_off_either() -> None:
    overlay = {"key": "cardiac-arrest", "applies_to": ["child"], "settings": {"asystole": OFF}}

    found = found_by("life-threat-off", profile_of({"asystole": HIGH}, circumstances=[overlay]))

    assert [finding.measured["circumstance"] for finding in found] == ["cardiac-arrest"]
