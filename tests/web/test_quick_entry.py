from typing import Any

import pytest

from app.domain.alarm_conditions import ALARM_CONDITIONS
from app.domain.errors import Refused
from app.web.quick_entry import quick_setting

HELD = {
    "state": "on",
    "limit": 90,
    "priority": "high",
    "delay_s": 0,
    "latching": True,
    "deep": {"limit": 60},
    "reason": "agreed",
    "source": "a guideline",
}
LOW = "heart-rate-low"


@pytest.mark.parametrize(
    ("typed", "alarm", "held", "kept"),
    [
        # a number into a blank leaves all else blank
        ("90", LOW, None, {"state": "on", "limit": 90}),
        (" 37.5 ", "temperature-high", None, {"state": "on", "limit": 37.5}),
        ("20", "apnoea", None, {"state": "on", "limit": 20}),
        ("on", "asystole", None, {"state": "on", "limit": None}),
        # what is not typed stays as it was
        ("85", LOW, HELD, {**HELD, "limit": 85}),
        ("m", LOW, HELD, {**HELD, "priority": "medium"}),
        ("5s nolat", LOW, HELD, {**HELD, "delay_s": 5, "latching": False}),
        ("on", LOW, HELD, HELD),
        ("h", "asystole", {"state": "on", "limit": None},
         {"state": "on", "limit": None, "priority": "high"}),
        # in any order, in either case, the second with or without a space
        ("NOLAT 2.5 s 90 M", LOW, None,
         {"state": "on", "limit": 90, "priority": "medium", "delay_s": 2.5, "latching": False}),
        # units
        ("6.5 kPa", "etco2-high", None, {"state": "on", "limit": 6.5, "unit": "kPa"}),
        ("6", "etco2-high", {"state": "on", "limit": 6.5, "unit": "kPa"},
         {"state": "on", "limit": 6, "unit": "kPa"}),
        ("45 mmHg", "etco2-high", {"state": "on", "limit": 6.5, "unit": "kPa"},
         {"state": "on", "limit": 45}),
        # a reason for silence is none for a limit, and the reverse
        ("90", LOW, {"state": "off", "reason": "agreed"}, {"state": "on", "limit": 90}),
        ("off", LOW, HELD, {"state": "off"}),
        ("off", LOW, {"state": "off", "reason": "agreed"}, {"state": "off", "reason": "agreed"}),
        ("nf", LOW, HELD, {"state": "not-fitted"}),
        ("np", LOW, None, {"state": "no-policy"}),
        ("blank", LOW, HELD, None),
    ],
)  # fmt: skip
def test_what_is_typed_makes_a_setting(
    typed: str, alarm: str, held: dict[str, Any] | None, kept: dict[str, Any] | None
) -> None:
    before = None if held is None else dict(held)

    assert quick_setting(typed, ALARM_CONDITIONS[alarm], held) == kept
    assert held == before


@pytest.mark.parametrize(
    ("typed", "alarm", "held", "reason"),
    [
        ("9o", LOW, None, "“9o” is not understood"),
        ("-5", LOW, None, "“-5” is not understood"),
        ("12345", LOW, None, "“12345” is not understood"),
        ("", LOW, None, "needs its limit"),
        ("m", LOW, None, "needs its limit"),
        ("m", LOW, {"state": "off"}, "needs its limit"),
        ("90", "asystole", None, "type on, off"),
        ("off m", LOW, HELD, "“off” is not understood"),
        ("90 80", LOW, None, "limit is given twice"),
        ("90 h m", LOW, None, "priority is given twice"),
        ("90 5s 10s", LOW, None, "delay is given twice"),
        ("6 kPa", LOW, None, "“kpa” is not understood"),
        ("90 f", LOW, None, "“f” is not understood"),
    ],
)
def test_what_is_not_understood_is_refused(
    typed: str, alarm: str, held: dict[str, Any] | None, reason: str
) -> None:
    with pytest.raises(Refused, match=reason):
        quick_setting(typed, ALARM_CONDITIONS[alarm], held)
