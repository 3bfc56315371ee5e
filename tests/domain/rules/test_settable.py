"""Whether each model can be set to what the policy says."""

from typing import Any

import pytest

from app.domain.findings import Finding
from tests.domain.rules.questions import NO_POLICY, NOT_FITTED, OFF, found_by, profile_of
from tests.worked_profiles import on

RULE = "limit-settable"


def model(alarm: str, grid: tuple[float, float, float], **more: Any) -> dict[str, Any]:
    start, end, step = grid
    can_be_off = more.pop("can_be_off", True)
    reach = {"from": start, "to": end, "step": step, "can_be_off": can_be_off}
    return {"grid": {alarm: reach}, **more}


def told(alarm: str, setting: dict[str, Any], dunlin: dict[str, Any]) -> list[Finding]:
    return found_by(RULE, profile_of({alarm: setting}, models={"dunlin": dunlin}))


@pytest.mark.parametrize(
    ("alarm", "limit", "settable"),
    [
        ("heart-rate-low", 30, True),
        ("heart-rate-low", 29, True),  # rounded up to 30
        ("heart-rate-low", 25, False),
        ("heart-rate-low", 62, True),  # rounded up to 65
        ("heart-rate-low", 199, True),  # rounded up to 200
        ("heart-rate-low", 201, False),
        ("heart-rate-high", 200, True),
        ("heart-rate-high", 201, True),  # rounded down to 200
        ("heart-rate-high", 205, False),
        ("heart-rate-high", 32, True),  # rounded down to 30
        ("heart-rate-high", 29, False),
    ],
)
def test_a_limit_between_two_steps_is_rounded_toward_the_earlier_alarm(
    alarm: str, limit: float, *, settable: bool
) -> None:
    found = told(alarm, on(limit), model(alarm, (30, 200, 5)))

    assert [finding.alarms for finding in found] == ([] if settable else [(alarm,)])


@pytest.mark.parametrize(
    ("limit", "unit", "settable"),
    [
        (45, None, True),  # 6.0 kPa
        (97, None, True),  # 12.9
        (98, None, True),  # 13.07, rounded down to 13.0
        (99, None, False),  # 13.2
        (13, "kPa", True),
        (13.1, "kPa", False),
    ],
)
def test_a_model_in_kpa_is_asked_in_kpa(limit: float, unit: str | None, *, settable: bool) -> None:
    dunlin = model("etco2-high", (0.5, 13, 0.1), etco2_unit="kPa")
    setting = on(limit, **({"unit": unit} if unit else {}))

    assert bool(told("etco2-high", setting, dunlin)) is not settable


@pytest.mark.parametrize(
    ("setting", "can_be_off", "settable"),
    [
        (OFF, True, True),
        (OFF, False, False),
        (on(90), False, True),
        (NOT_FITTED, True, False),
        (NO_POLICY, False, True),
    ],
)
def test_off_and_not_fitted_must_be_possible(
    setting: dict[str, Any], *, can_be_off: bool, settable: bool
) -> None:
    dunlin = model("spo2-low", (50, 100, 1), can_be_off=can_be_off)

    assert bool(told("spo2-low", setting, dunlin)) is not settable


def test_an_alarm_that_the_model_says_nothing_of_is_not_judged() -> None:
    assert told("spo2-low", OFF, model("heart-rate-low", (30, 200, 5), can_be_off=False)) == []


def test_a_deep_line_must_be_settable_too() -> None:
    setting = on(90, deep={"limit": 45, "priority": "high", "delay_s": 0})

    (finding,) = told("spo2-low", setting, model("spo2-low", (50, 100, 1)))

    assert "deep SpO₂ low 45 lies outside 50 to 100 %" in finding.message


def test_one_finding_a_model_and_category_says_all_that_cannot_be_set() -> None:
    reach = {"from": 30, "to": 150, "step": 5, "can_be_off": False}
    models = {"petrel": {"grid": {"heart-rate-high": reach, "pulse-rate-high": reach}}}
    settings = {"heart-rate-high": on(160), "pulse-rate-high": OFF}

    (finding,) = found_by(RULE, profile_of(settings, models=models))

    assert finding.severity.value == "off-protocol"
    assert finding.alarms == ("heart-rate-high", "pulse-rate-high")
    assert finding.message == (
        "Child: petrel cannot be set as the policy says: Heart rate high 160 lies outside "
        "30 to 150 /min and Pulse rate high cannot be switched off."
    )


@pytest.mark.parametrize(
    ("presets", "judged"),
    [
        ({}, True),
        ({"CHILD": {"carries": "child"}}, True),
        ({"P": {"carries": "other", "serves": ["child", "other"]}}, True),  # set by hand
        ({"P": {"carries": "other"}}, False),
    ],
)
def test_a_model_is_judged_for_the_categories_that_it_is_used_for(
    presets: dict[str, Any], *, judged: bool
) -> None:
    dunlin = model("spo2-low", (92, 100, 1), presets=presets)
    profile = profile_of(
        {"spo2-low": on(90)},
        models={"dunlin": dunlin},
        categories=[
            {"key": "child", "label": "Child", "from": "0 d", "to": "16 y"},
            {"key": "other", "label": "Other", "from": "16 y", "to": None},
        ],
    )

    assert bool(found_by(RULE, profile)) is judged


def test_what_a_circumstance_asks_for_must_be_settable() -> None:
    overlay = {"key": "paced", "applies_to": ["child"], "settings": {"spo2-low": on(45)}}
    models = {"dunlin": model("spo2-low", (50, 100, 1))}

    (finding,) = found_by(
        RULE, profile_of({"spo2-low": on(90)}, models=models, circumstances=[overlay])
    )

    assert finding.measured == {"model": "dunlin", "circumstance": "paced"}
