"""What a crew may loosen stops at the danger bound."""

from typing import Any

import pytest

from tests.domain.rules.questions import found_by, profile_of
from tests.worked_profiles import on

RULE = "latitude-breach"


def free(limit: float, start: float | None, end: float | None, **more: Any) -> dict[str, Any]:
    return on(limit, latitude={"from": start, "to": end, "off_by": "nobody"}, **more)


@pytest.mark.parametrize(
    ("alarm", "setting", "breach"),
    [
        # danger below 60 at 5 to 8 years (National PEWS), above 160 at 5 to 13
        ("heart-rate-low", free(70, 61, 80), False),
        ("heart-rate-low", free(70, 60, 80), False),
        ("heart-rate-low", free(70, 59, 80), True),
        ("heart-rate-low", free(70, 70, 300), False),  # the tighter end is no danger
        ("heart-rate-high", free(150, 120, 159), False),
        ("heart-rate-high", free(150, 120, 160), False),
        ("heart-rate-high", free(150, 120, 161), True),
        ("heart-rate-high", free(150, 20, 150), False),
        ("apnoea", free(20, 10, 30), False),
        ("apnoea", free(20, 10, 31), True),
        ("nibp-systolic-low", free(12, 10.7, 13, unit="kPa"), False),  # 80.3 mmHg
        ("nibp-systolic-low", free(12, 10.5, 13, unit="kPa"), True),  # 78.8 mmHg
        ("heart-rate-low", free(70, None, None), False),
        ("heart-rate-low", on(70), False),
        ("nibp-diastolic-low", free(40, 10, 50), False),  # nothing bounds it
    ],
)
def test_the_looser_end_may_reach_the_danger_bound_and_not_pass_it(
    alarm: str, setting: dict[str, Any], *, breach: bool
) -> None:
    found = found_by(RULE, profile_of({alarm: setting}))

    assert [finding.alarms for finding in found] == ([(alarm,)] if breach else [])
    assert {finding.severity.value for finding in found} <= {"unsafe"}


def test_passing_a_bound_of_caution_alone_is_allowed() -> None:
    """Caution below 60, danger below 50, from 8 to 13 years."""
    profile = profile_of({"heart-rate-low": free(65, 50, 70)}, ("8 y", "13 y"))

    assert found_by(RULE, profile) == []


def test_a_limit_that_is_itself_past_the_bound_is_the_silent_gap_and_not_told_twice() -> None:
    profile = profile_of({"heart-rate-low": free(55, 50, 70)})

    assert found_by(RULE, profile) == []
    assert [f.severity.value for f in found_by("silent-gap", profile)] == ["unsafe"]


def test_a_sister_alarm_does_not_excuse_it() -> None:
    """A crew that may loosen both leaves nothing, and one sensor may be off the patient."""
    both = {"heart-rate-low": free(70, 40, 80), "pulse-rate-low": free(70, 40, 80)}

    assert [f.alarms for f in found_by(RULE, profile_of(both))] == [
        ("heart-rate-low",),
        ("pulse-rate-low",),
    ]
    alone = {"heart-rate-low": free(70, 40, 80), "pulse-rate-low": on(70)}
    assert [f.alarms for f in found_by(RULE, profile_of(alone))] == [("heart-rate-low",)]


def test_it_says_how_far_at_which_age_and_past_what() -> None:
    """Danger below 60 up to 8 years, below 50 from then on."""
    profile = profile_of({"heart-rate-low": free(70, 55, 80)}, ("5 y", "13 y"))

    (finding,) = found_by(RULE, profile)

    assert finding.message == (
        "Child: a crew may loosen Heart rate low to 55 /min at age 5 y to 8 y; "
        "below 60 /min is danger."
    )
    assert "National PEWS England 2023" in finding.source
    assert finding.measured["looser_end"] == 55
    assert finding.measured["bounds"] == ["60 /min"]


def test_a_circumstance_is_judged_by_its_own_bounds_and_only_where_it_changes() -> None:
    """Below 83 is danger under hypercapnia risk, below 88 otherwise."""
    overlay = {
        "key": "hypercapnia-risk",
        "applies_to": ["child"],
        "settings": {"spo2-low": free(86, 83, 88)},
    }
    settings = {"spo2-low": free(90, 87, 94), "heart-rate-low": free(50, 30, 60)}

    found = found_by(RULE, profile_of(settings, ("16 y", None), circumstances=[overlay]))

    assert [(f.alarms, f.measured.get("circumstance")) for f in found] == [
        (("spo2-low",), None),
        (("heart-rate-low",), None),
    ]
