from typing import Any

import pytest

from app.domain.findings import Severity
from tests.domain.rules.questions import OFF, found_by, profile_of
from tests.worked_profiles import on


@pytest.mark.parametrize(
    ("low", "high", "wrong"),
    [(99, 100, False), (100, 100, True), (101, 100, True)],
)
def test_a_low_limit_lies_below_its_high_limit(low: float, high: float, wrong: bool) -> None:
    found = found_by(
        "limit-order",
        profile_of({"heart-rate-low": on(low), "heart-rate-high": on(high)}),
    )

    assert [finding.alarms for finding in found] == (
        [("heart-rate-low", "heart-rate-high")] if wrong else []
    )
    assert all(finding.severity is Severity.UNSAFE for finding in found)
    assert all(finding.measured["low"] == low for finding in found)
    assert all(finding.measured["high"] == high for finding in found)


@pytest.mark.parametrize(
    ("low", "high"),
    [
        (on(200), OFF),
        (OFF, on(20)),
        (on(200), None),
    ],
)
def test_one_limit_alone_is_in_order(low: dict[str, Any], high: dict[str, Any] | None) -> None:
    settings = {"heart-rate-low": low} | ({"heart-rate-high": high} if high else {})

    assert found_by("limit-order", profile_of(settings)) == []


@pytest.mark.parametrize(
    ("low_kpa", "wrong"),
    [(4.6, False), (4.7, True)],  # 34.50 and 35.25 mmHg against 35 mmHg
)
def test_order_is_judged_in_one_unit(low_kpa: float, wrong: bool) -> None:
    settings = {"etco2-low": on(low_kpa, unit="kPa"), "etco2-high": on(35)}

    assert bool(found_by("limit-order", profile_of(settings))) is wrong


@pytest.mark.parametrize(
    ("alarm", "limit", "deep", "wrong"),
    [
        ("heart-rate-low", 90, 89, False),
        ("heart-rate-low", 90, 90, True),
        ("heart-rate-low", 90, 91, True),
        ("heart-rate-high", 150, 151, False),
        ("heart-rate-high", 150, 150, True),
        ("heart-rate-high", 150, 149, True),
        ("apnoea", 20, 21, False),
        ("apnoea", 20, 20, True),
    ],
)
def test_a_deep_line_lies_beyond_its_limit(
    alarm: str, limit: float, deep: float, wrong: bool
) -> None:
    settings = {alarm: on(limit, deep={"limit": deep, "priority": "high", "delay_s": 0})}

    found = found_by("limit-order", profile_of(settings))

    assert [finding.alarms for finding in found] == ([(alarm,)] if wrong else [])
    assert all(finding.measured["limit"] == limit for finding in found)
    assert all(finding.measured["deep"] == deep for finding in found)


@pytest.mark.parametrize(
    ("alarm", "limit", "unit", "wrong"),
    [
        ("heart-rate-low", 9, None, True),
        ("heart-rate-low", 10, None, False),
        ("heart-rate-high", 350, None, False),
        ("heart-rate-high", 351, None, True),
        ("spo2-high", 100, None, False),
        ("spo2-high", 101, None, True),
        ("spo2-low", 39, None, True),
        ("temperature-high", 45, None, False),
        ("temperature-high", 45.1, None, True),
        ("temperature-high", 100.4, "[degF]", False),  # 38 °C
        ("temperature-high", 100.4, None, False),  # told as a slip of the unit
        ("etco2-high", 19.9, "kPa", False),  # 149.3 mmHg
        ("etco2-high", 20.1, "kPa", False),  # 150.8 mmHg, told as a slip of the unit
        ("etco2-high", 200, "kPa", True),
        ("apnoea", 0, None, True),
        ("apnoea", 120, None, False),
        ("apnoea", 121, None, True),
        ("vpc-rate", 60, None, False),
        ("vpc-rate", 61, None, True),
    ],
)
def test_a_limit_is_plausible_for_its_vital_sign(
    alarm: str, limit: float, unit: str | None, wrong: bool
) -> None:
    settings = {alarm: on(limit, **({"unit": unit} if unit else {}))}

    found = found_by("limit-implausible", profile_of(settings))

    assert [finding.alarms for finding in found] == ([(alarm,)] if wrong else [])
    assert all(finding.severity is Severity.OFF_PROTOCOL for finding in found)


def test_an_implausible_deep_line_is_told_too() -> None:
    settings = {"heart-rate-low": on(60, deep={"limit": 5})}

    (finding,) = found_by("limit-implausible", profile_of(settings))

    assert finding.measured == {"limit": 5, "least": 10, "most": 350}


def test_a_circumstance_is_asked_only_about_the_alarms_that_it_names() -> None:
    wrong = {"heart-rate-low": on(100), "heart-rate-high": on(90), "spo2-low": on(90)}
    overlay = {"key": "paced", "applies_to": ["child"], "settings": {"spo2-low": on(30)}}

    profile = profile_of(wrong, circumstances=[overlay])

    assert [f.measured.get("circumstance") for f in found_by("limit-order", profile)] == [None]
    (finding,) = found_by("limit-implausible", profile)
    assert finding.measured["circumstance"] == "paced"
    assert finding.message.startswith("Child, paced: ")
