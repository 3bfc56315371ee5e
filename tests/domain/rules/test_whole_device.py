"""Options that silence the device, or leave a pressure alarm without fresh values."""

import json

import pytest

from app.exchange.profile_json import parse_profile
from tests.domain.rules.questions import OFF, found_by, profile_of
from tests.worked_profiles import document, on


@pytest.mark.parametrize(
    ("option", "value", "breach"),
    [
        ("all-alarms-on-at-start", True, False),
        ("all-alarms-on-at-start", False, True),
        ("all-alarms-on-at-start", "off", True),
        ("audio-volume", 0, True),
        ("audio-volume", 1, False),
        ("audio-volume", "off", True),
        ("longest-pause-s", 600, False),
        ("longest-pause-s", "permanent", True),
        ("reminder-s", "off", False),
        ("pacing-detection", False, False),
    ],
)
def test_an_option_may_not_silence_the_device_as_a_whole(
    option: str, value: object, *, breach: bool
) -> None:
    found = found_by("bound-breach", profile_of({}, options={option: {"value": value}}))

    assert [finding.measured["option"] for finding in found] == ([option] if breach else [])
    assert all(finding.severity.value == "unsafe" for finding in found)
    assert all(finding.message[0].isupper() and finding.message[-1] == "." for finding in found)


@pytest.mark.parametrize(
    ("interval", "measured"),
    [
        (9.9, []),
        (10, []),
        (10.1, [10.1]),
        (11, [11]),
        ("manual", [None]),
        (None, []),
    ],
)
def test_a_pressure_alarm_is_no_fresher_than_its_interval(
    interval: object, measured: list[float | None]
) -> None:
    options = {} if interval is None else {"nibp-interval-min": {"value": interval}}

    found = found_by("nibp-stale", profile_of({"nibp-mean-low": on(50)}, options=options))

    assert [finding.measured["interval_min"] for finding in found] == measured


@pytest.mark.parametrize("alarm", ["ibp-systolic-low", "heart-rate-low"])
def test_no_other_alarm_waits_for_the_cuff(alarm: str) -> None:
    options = {"nibp-interval-min": {"value": "manual"}}
    settings = {alarm: on(60), "nibp-systolic-low": OFF}

    assert found_by("nibp-stale", profile_of(settings, options=options)) == []


def test_the_interval_is_one_and_so_is_the_finding() -> None:
    overlay = {
        "key": "brain-injury",
        "applies_to": ["adult"],
        "settings": {"nibp-mean-low": on(80)},
    }
    bands = {
        "child": ("0 d", "16 y", {"nibp-systolic-low": on(80)}),
        "adult": ("16 y", None, {"nibp-systolic-low": on(90)}),
    }
    options = {"nibp-interval-min": {"value": 15}}
    policy = document(bands, options=options, circumstances=[overlay])

    (finding,) = found_by("nibp-stale", parse_profile(json.dumps(policy)))

    assert finding.category is None
    assert finding.alarms == ("nibp-systolic-low", "nibp-mean-low")
    assert finding.message == (
        "Non-invasive pressure can be dangerous unannounced for 15 min: "
        "it is measured no more often."
    )
