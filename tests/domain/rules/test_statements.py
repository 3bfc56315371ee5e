import pytest

from app.domain.alarm_conditions import ALARM_CONDITIONS
from app.domain.findings import Severity
from app.domain.rules import blanks
from tests.domain.rules.questions import NO_POLICY, NOT_FITTED, OFF, found_by, profile_of
from tests.worked_profiles import on

EVERYTHING = dict.fromkeys(ALARM_CONDITIONS, NO_POLICY)


@pytest.mark.parametrize("left_out", [0, 1, 2, len(ALARM_CONDITIONS)])
def test_alarms_that_nothing_is_said_of_are_told_in_one_note(left_out: int) -> None:
    missing = list(ALARM_CONDITIONS)[:left_out]
    stated = {alarm: NO_POLICY for alarm in ALARM_CONDITIONS if alarm not in missing}

    found = found_by("alarm-unstated", profile_of(stated))

    assert [(f.severity, list(f.alarms)) for f in found] == (
        [(Severity.NOTE, missing)] if missing else []
    )


@pytest.mark.parametrize(
    ("setting", "blank"),
    [
        (on(90), ()),
        (OFF, ()),
        (NOT_FITTED, ()),
        (NO_POLICY, ()),
        (on(90, priority=None), ("priority",)),
        (on(90, delay_s=None), ("delay",)),
        (on(90, latching=None), ("latching",)),
        ({"state": "on", "limit": 90}, ("priority", "delay", "latching")),
    ],
)
def test_a_blank_part_of_a_setting_is_told(
    setting: dict[str, object], blank: tuple[str, ...]
) -> None:
    profile = profile_of({**EVERYTHING, "heart-rate-low": setting})

    assert blanks(profile) == ([("child", "heart-rate-low", blank)] if blank else [])
    found = found_by("alarm-unstated", profile)
    assert [f.measured["partly"] for f in found] == (
        [{"heart-rate-low": list(blank)}] if blank else []
    )


def test_a_circumstance_need_not_state_everything() -> None:
    overlay = {"key": "paced", "applies_to": ["child"], "settings": {"spo2-low": on(90)}}

    assert found_by("alarm-unstated", profile_of(EVERYTHING, circumstances=[overlay])) == []
