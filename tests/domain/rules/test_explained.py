"""Every value says why it is so, and where it comes from."""

from typing import Any

import pytest

from tests.domain.rules.questions import NO_POLICY, NOT_FITTED, OFF, found_by, profile_of
from tests.worked_profiles import on

RULE = "alarm-unsourced"


@pytest.mark.parametrize(
    ("setting", "silent"),
    [
        (on(60), False),
        (on(60, reason=""), True),
        (on(60, source=""), True),
        (on(60, reason="  "), True),
        (OFF, False),
        ({"state": "off", "reason": ""}, True),
        (NOT_FITTED, False),
        (NO_POLICY, False),
    ],
)
def test_on_needs_reason_and_source_and_off_a_reason(
    setting: dict[str, Any], *, silent: bool
) -> None:
    found = found_by(RULE, profile_of({"heart-rate-low": setting}))

    assert [finding.alarms for finding in found] == ([("heart-rate-low",)] if silent else [])


def test_one_note_a_category_counts_them() -> None:
    bare = on(60, reason="", source="")
    settings = {"heart-rate-low": bare, "pulse-rate-low": bare, "spo2-low": on(90)}

    (finding,) = found_by(RULE, profile_of(settings))

    assert finding.severity.value == "note"
    assert finding.alarms == ("heart-rate-low", "pulse-rate-low")
    assert "2 of 3 settings" in finding.message


def test_a_circumstance_answers_for_its_own_settings_only() -> None:
    bare = on(60, reason="")
    overlay = {"key": "paced", "applies_to": ["child"], "settings": {"pulse-rate-low": bare}}

    plain, overlaid = found_by(RULE, profile_of({"heart-rate-low": bare}, circumstances=[overlay]))

    assert plain.alarms == ("heart-rate-low",)
    assert overlaid.alarms == ("pulse-rate-low",)
    assert "1 of 1 settings" in overlaid.message
