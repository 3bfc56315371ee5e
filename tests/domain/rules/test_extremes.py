"""Limits that cannot sound, and limits that read like another unit."""

from typing import Any

import pytest

from tests.domain.rules.questions import found_by, profile_of
from tests.worked_profiles import on


def told_by(rule: str, alarm: str, setting: dict[str, Any]) -> bool:
    return [finding.alarms for finding in found_by(rule, profile_of({alarm: setting}))] == [
        (alarm,)
    ]


@pytest.mark.parametrize(
    ("alarm", "limit", "never"),
    [
        ("spo2-high", 99, False),
        ("spo2-high", 100, True),
        ("spo2-high", 101, False),  # nobody can have meant it: told as implausible
        ("spo2-low", 100, False),
        ("heart-rate-low", 10, False),
        ("heart-rate-low", 0, True),
        ("respiratory-rate-low", 1, False),
        ("respiratory-rate-low", 0, True),
        ("inspired-co2-low", 1, False),
        ("inspired-co2-low", 0, True),
        ("inspired-co2-high", 0, False),
        ("heart-rate-high", 100, False),
        ("temperature-low", 0, False),  # no end of the scale, but implausible
    ],
)
def test_a_limit_at_the_end_of_what_can_be_measured_never_sounds(
    alarm: str, limit: float, *, never: bool
) -> None:
    assert told_by("never-sounds", alarm, on(limit)) is never


@pytest.mark.parametrize("alarm", ["heart-rate-low", "nibp-diastolic-low"])
def test_a_limit_that_never_sounds_is_not_told_as_implausible_too(alarm: str) -> None:
    assert found_by("limit-implausible", profile_of({alarm: on(0)})) == []


def test_a_deep_line_that_never_sounds_is_told() -> None:
    (finding,) = found_by("never-sounds", profile_of({"heart-rate-low": on(60, deep={"limit": 0})}))

    assert finding.message == (
        "Child: Heart rate low can never sound at 0 /min: that limit is off in all but name."
    )


@pytest.mark.parametrize(
    ("alarm", "limit", "unit", "slip"),
    [
        # kPa written as mmHg: high limits below 13, low ones below 7
        ("etco2-high", 6.5, None, True),
        ("etco2-high", 12, None, True),
        ("etco2-high", 13, None, False),
        ("etco2-high", 45, None, False),
        ("etco2-low", 4, None, True),
        ("etco2-low", 6, None, True),
        ("etco2-low", 7, None, False),
        ("etco2-low", 10, None, False),  # what resuscitation asks for, and no slip
        ("etco2-low", 35, None, False),
        # mmHg written as kPa
        ("etco2-high", 12, "kPa", False),
        ("etco2-high", 13, "kPa", True),
        ("etco2-high", 45, "kPa", True),
        ("etco2-low", 4, "kPa", False),
        ("etco2-low", 1.4, "kPa", False),
        ("etco2-low", 35, "kPa", True),
        ("inspired-co2-high", 1, "kPa", False),
        ("inspired-co2-high", 9.9, "kPa", False),
        ("inspired-co2-high", 10, "kPa", True),  # 75.01 mmHg is beyond anything; 10 mmHg is not
        # pressures
        ("nibp-systolic-low", 12, None, True),
        ("nibp-systolic-low", 20, None, False),
        ("nibp-systolic-low", 12, "kPa", False),
        ("nibp-systolic-low", 90, "kPa", True),
        ("nibp-mean-low", 4.1, None, True),
        ("nibp-mean-low", 31, None, False),
        # temperatures
        ("temperature-high", 38, None, False),
        ("temperature-high", 100.4, None, True),
        ("temperature-high", 100.4, "[degF]", False),
        ("temperature-high", 38, "[degF]", True),
        # nothing else has two units
        ("heart-rate-low", 9, None, False),
        ("spo2-low", 9, None, False),
        ("apnoea", 0, None, False),
    ],
)
def test_a_limit_that_makes_sense_only_in_another_unit_is_a_slip(
    alarm: str, limit: float, unit: str | None, *, slip: bool
) -> None:
    setting = on(limit, **({"unit": unit} if unit else {}))

    assert told_by("unit-slip", alarm, setting) is slip


@pytest.mark.parametrize(
    ("alarm", "limit", "unit", "words"),
    [
        ("etco2-high", 5.5, None, "would always sound at 5.5 mmHg; the number reads like kPa"),
        ("etco2-low", 4.5, None, "would hardly ever sound at 4.5 mmHg; the number reads like kPa"),
        ("etco2-high", 50, "kPa", "would hardly ever sound at 50 kPa; the number reads like mmHg"),
        ("etco2-low", 30, "kPa", "would always sound at 30 kPa; the number reads like mmHg"),
        (
            "temperature-high",
            100.4,
            None,
            "would hardly ever sound at 100.4 °C; the number reads like °F",
        ),
    ],
)
def test_a_slip_says_first_what_it_does(
    alarm: str, limit: float, unit: str | None, words: str
) -> None:
    setting = on(limit, **({"unit": unit} if unit else {}))

    (finding,) = found_by("unit-slip", profile_of({alarm: setting}))

    assert words in finding.message


def test_a_slip_is_not_told_as_implausible_too() -> None:
    settings = {"etco2-high": on(45, unit="kPa"), "temperature-high": on(100.4)}

    assert found_by("limit-implausible", profile_of(settings)) == []


def test_a_deep_line_in_another_unit_than_its_limit_is_a_slip() -> None:
    deep = {"limit": 3.3, "priority": "high", "delay_s": 0}

    (finding,) = found_by("unit-slip", profile_of({"etco2-low": on(35, deep=deep)}))

    assert finding.measured == {"limit": 3.3, "unit": "mm[Hg]", "reads_like": "kPa"}


@pytest.mark.parametrize("rule", ["never-sounds", "unit-slip"])
def test_a_circumstance_is_asked_only_about_what_it_changes(rule: str) -> None:
    wrong = {"spo2-high": on(100), "etco2-high": on(6), "heart-rate-low": on(60)}
    overlay = {"key": "paced", "applies_to": ["child"], "settings": {"heart-rate-low": on(70)}}

    found = found_by(rule, profile_of(wrong, circumstances=[overlay]))

    assert [finding.measured.get("circumstance") for finding in found] == [None]


@pytest.mark.parametrize(
    ("rule", "changed"),
    [("never-sounds", {"spo2-high": on(100)}), ("unit-slip", {"etco2-high": on(6)})],
)
def test_what_a_circumstance_itself_gets_wrong_is_told(
    rule: str, changed: dict[str, dict[str, Any]]
) -> None:
    overlay = {"key": "paced", "applies_to": ["child"], "settings": changed}

    (finding,) = found_by(rule, profile_of({}, circumstances=[overlay]))

    assert finding.message.startswith("Child, paced: ")
