from decimal import Decimal

import pytest

from app.domain.device_reports import CouldNotRead, FoundOff, FoundOn, FoundText, NotRead, Reading
from app.domain.double_reading import NextLook
from app.domain.errors import Refused
from app.domain.options import OPTIONS
from app.web.option_form import option_readings_from, options_of

PRESETS = {"CHILD": "preschool", "ADULT": "adult"}


def parsed(key: str, **typed: str) -> Reading:
    """`own`: what was typed; `found`, `why` and `sure` beside it."""
    named = {key if name == "own" else f"{key}.{name}": told for name, told in typed.items()}
    return option_readings_from(named, options_of(NextLook(1, (key,)), PRESETS))[key]


@pytest.mark.parametrize(
    ("key", "typed", "reading"),
    [
        ("audio-volume", {"own": " 80 "}, FoundOn(Decimal(80))),
        ("audio-volume", {"own": "100"}, FoundOn(Decimal(100))),
        ("audio-volume", {"own": "101", "sure": "yes"}, FoundOn(Decimal(101))),
        ("audio-volume", {"found": "off"}, FoundText("off")),
        ("longest-pause-s", {"found": "permanent"}, FoundText("permanent")),
        ("nibp-interval-min", {"found": "manual"}, FoundText("manual")),
        ("spo2-averaging-s", {"own": "2,5", "sure": "yes"}, FoundOn(Decimal("2.5"))),
        ("all-alarms-on-at-start", {"found": "on"}, FoundOn()),
        ("all-alarms-on-at-start", {"found": "off"}, FoundOff()),
        ("start-up-category", {"found": "CHILD"}, FoundText("preschool")),
        ("start-up-category", {"own": "the last one used"}, FoundText("the last one used")),
        ("etco2-unit", {"found": "mm[Hg]"}, FoundText("mm[Hg]")),
        ("default-lead", {"own": "II"}, FoundText("II")),
        ("default-lead", {"found": "could-not-read", "why": "dark"}, CouldNotRead("dark")),
    ],
)
def test_each_way_to_answer(key: str, typed: dict[str, str], reading: Reading) -> None:
    assert parsed(key, **typed) == reading


@pytest.mark.parametrize(
    ("key", "typed", "told"),
    [
        ("audio-volume", {}, "nothing is entered"),
        ("audio-volume", {"own": "101"}, "goes from 0 to 100 %; look again"),
        ("audio-volume", {"own": "loud"}, "write a number"),
        ("audio-volume", {"own": "80", "found": "off"}, "not both"),
        ("audio-volume", {"found": "permanent"}, "nothing is entered"),
        ("spo2-averaging-s", {"own": "2.5"}, "goes in steps of 1: 2 or 3"),
        ("spo2-averaging-s", {"found": "off"}, "nothing is entered"),
        ("all-alarms-on-at-start", {"own": "yes"}, "choose on or off"),
        ("start-up-category", {"found": "adult"}, "nothing is entered"),
        ("default-lead", {"own": "I\x00I"}, "in one short line"),
        ("default-lead", {"own": "I" * 201}, "in one short line"),
        ("default-lead", {"found": "could-not-read"}, "say why"),
    ],
)
def test_a_slip_is_told_at_its_option(key: str, typed: dict[str, str], told: str) -> None:
    with pytest.raises(Refused) as refused:
        parsed(key, **typed)

    (fault,) = refused.value.faults
    assert fault.column == key
    assert told in fault.reason


def test_what_was_left_empty_can_be_told_as_not_read() -> None:
    asked = options_of(NextLook(1, tuple(OPTIONS)), PRESETS)

    found = option_readings_from({"rest": "yes", "audio-volume": "80"}, asked)

    assert found.pop("audio-volume") == FoundOn(Decimal(80))
    assert set(found.values()) == {NotRead()}
