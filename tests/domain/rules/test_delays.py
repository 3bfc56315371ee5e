"""How long a danger may last before anything sounds: 15 s is a note, 30 s unsafe."""

from typing import Any

import pytest

from tests.domain.rules.questions import OFF, found_by, profile_of
from tests.worked_profiles import on

RULE = "delay-long"


def severities(settings: dict[str, Any], **more: Any) -> list[str]:
    return [finding.severity.value for finding in found_by(RULE, profile_of(settings, **more))]


@pytest.mark.parametrize(
    ("delay", "told"),
    [
        (0, []),
        (14.9, []),
        (15, []),
        (15.1, ["note"]),
        (30, ["note"]),
        (30.1, ["unsafe"]),
        (None, []),
    ],
)
def test_a_delay_is_a_note_above_15_s_and_unsafe_above_30_s(
    delay: float | None, told: list[str]
) -> None:
    assert severities({"heart-rate-high": on(150, delay_s=delay)}) == told


@pytest.mark.parametrize(
    ("delay", "averaging", "told"),
    [(7, 8, []), (8, 8, ["note"]), (22, 8, ["note"]), (23, 8, ["unsafe"]), (15, None, [])],
)
def test_the_averaging_of_saturation_counts_as_delay(
    delay: float, averaging: float | None, told: list[str]
) -> None:
    options = {"spo2-averaging-s": {"value": averaging}} if averaging else {}

    assert severities({"spo2-low": on(90, delay_s=delay)}, options=options) == told


def test_averaging_delays_no_other_alarm() -> None:
    options = {"spo2-averaging-s": {"value": 30}}

    assert severities({"heart-rate-low": on(60, delay_s=10)}, options=options) == []


@pytest.mark.parametrize(("deep_delay", "told"), [(0, []), (1, ["unsafe"]), (None, ["unsafe"])])
def test_only_a_deep_line_without_a_delay_exempts(
    deep_delay: float | None, told: list[str]
) -> None:
    deep = {"limit": 80, "priority": "high", "delay_s": deep_delay}

    assert severities({"spo2-low": on(90, delay_s=40, deep=deep)}) == told


def test_an_alarm_that_is_off_waits_for_nothing() -> None:
    assert severities({"spo2-low": OFF}, options={"spo2-averaging-s": {"value": 60}}) == []


def test_one_finding_a_severity_names_every_alarm_and_the_longest_delay() -> None:
    settings = {
        "heart-rate-low": on(60, delay_s=20),
        "heart-rate-high": on(150, delay_s=16),
        "respiratory-rate-high": on(40, delay_s=45),
    }

    unsafe, note = found_by(RULE, profile_of(settings))

    assert unsafe.message == (
        "Child: Respiratory rate high can last 45 s before anything sounds: "
        "too long to guard anyone."
    )
    assert note.alarms == ("heart-rate-low", "heart-rate-high")
    assert note.measured["delays_s"] == {"heart-rate-low": 20, "heart-rate-high": 16}
    assert note.message == (
        "Child: Heart rate low and Heart rate high can last up to 20 s before anything sounds."
    )


def test_averaging_is_told_where_it_made_the_delay() -> None:
    options = {"spo2-averaging-s": {"value": 8}}

    (finding,) = found_by(RULE, profile_of({"spo2-low": on(90, delay_s=10)}, options=options))

    assert finding.measured["delay_s"] == 18
    assert "18 s, 8 s of SpO₂ averaging included" in finding.message


def test_a_circumstance_is_asked_only_about_what_it_changes() -> None:
    overlay = {"key": "paced", "applies_to": ["child"], "settings": {"spo2-low": on(88)}}
    settings = {"heart-rate-high": on(150, delay_s=20), "spo2-low": on(90, delay_s=20)}

    found = found_by(RULE, profile_of(settings, circumstances=[overlay]))

    assert [(f.alarms, f.measured.get("circumstance")) for f in found] == [
        (("heart-rate-high", "spo2-low"), None)
    ]


def test_a_gap_by_delay_alone_says_that_the_alarm_comes_too_late() -> None:
    profile = profile_of({"heart-rate-high": on(150, delay_s=31)})

    (finding,) = found_by("silent-gap", profile)

    assert "Heart rate can rise to any value for more than 30 s unannounced" in finding.message
