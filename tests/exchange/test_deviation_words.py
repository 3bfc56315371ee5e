"""A deviation as two values and as the sentence that people read first."""

import json
from datetime import UTC, datetime
from typing import Any

import pytest

from app.domain.audit import DeviceDeviation, ReadingRow, audit
from app.domain.device_reports import (
    CouldNotRead,
    FoundNotFitted,
    FoundOff,
    FoundText,
    Reading,
    StateRead,
)
from app.domain.option_judgement import ANY_PRESET
from app.exchange.deviation_words import consequence, found_value, signed_value
from app.exchange.profile_json import parse_profile
from tests.domain.presets import read
from tests.domain.rules.questions import OFF
from tests.worked_profiles import document, on


def deviation(
    alarm: str, reading: Reading, signed: Any = None, *, etco2_unit: str = "mm[Hg]"
) -> DeviceDeviation:
    """The one deviation of one reading of an alarm or, by its key, of an option."""
    base = alarm.removesuffix(".deep")
    models = {"dunlin": {"presets": {"CHILD": {"carries": "child"}}, "etco2_unit": etco2_unit}}
    settings = {} if signed is None or base == "longest-pause-s" else {base: signed}
    options = {"longest-pause-s": {"value": signed}} if base == "longest-pause-s" else {}
    bands = {"child": ("1 y", "5 y", settings)}
    profile = parse_profile(json.dumps(document(bands, models=models, options=options)))
    preset = ANY_PRESET if options else "CHILD"
    at = datetime(2026, 3, 1, 8, tzinfo=UTC)
    row = ReadingRow(2, "boat-3", at, StateRead.POWER_ON, preset, alarm, reading, "dunlin")
    (found,) = audit(profile, [row]).deviations
    return found


DEEP = on(90, delay_s=15, deep={"limit": 60, "priority": "high", "delay_s": 0})
RATE = on(90, delay_s=5, latching=True)


@pytest.mark.parametrize(
    ("found", "signed", "read_", "said"),
    [
        (
            deviation("etco2-high", read(8), on(45), etco2_unit="kPa"),
            6,
            8,
            "EtCO₂ can rise from 6 to 8 kPa unannounced.",
        ),
        (
            deviation("etco2-high", read(60), on(45)),
            45,
            60,
            "EtCO₂ can rise from 45 to 60 mmHg unannounced.",
        ),
        (
            deviation("temperature-high", read(104, unit="[degF]"), on(38)),
            100.4,
            104,
            "Temperature can rise from 100.4 to 104 °F unannounced.",
        ),
        (
            deviation("temperature-high", read(40), on(38)),
            38,
            40,
            "Temperature can rise from 38 to 40 °C unannounced.",
        ),
        (
            deviation("heart-rate-low", read(70), on(90)),
            90,
            70,
            "Heart rate can fall from 90 to 70 /min unannounced.",
        ),
        (
            deviation("heart-rate-high", read(200), on(170)),
            170,
            200,
            "Heart rate can rise from 170 to 200 /min unannounced.",
        ),
        (
            deviation("heart-rate-high", read(150), on(170)),
            170,
            150,
            "Heart rate sounds already at 150 /min instead of 170: noise.",
        ),
        (
            deviation("heart-rate-low", FoundOff(), on(90)),
            90,
            "off",
            "Heart rate sounds no low alarm, however far it falls.",
        ),
        (
            deviation("heart-rate-high", FoundNotFitted(), on(170)),
            170,
            "not-fitted",
            "Heart rate sounds no high alarm, however far it rises.",
        ),
        (
            deviation("heart-rate-low", read(90), OFF),
            "off",
            90,
            "Heart rate sounds an alarm that the policy has off.",
        ),
        (
            deviation("heart-rate-low", CouldNotRead("glare"), on(90)),
            90,
            "could-not-read: glare",
            "Heart rate low could not be read.",
        ),
        (
            deviation("asystole", FoundOff(), on(None, priority="high")),
            "on",
            "off",
            "Asystole sounds no alarm.",
        ),
        (
            deviation("apnoea", read(30), on(20)),
            20,
            30,
            "Apnoea sounds only after 30 s instead of 20.",
        ),
        (
            deviation("apnoea", read(15), on(20)),
            20,
            15,
            "Apnoea sounds already after 15 s instead of 20.",
        ),
        # the limit is right, something else is not
        (
            deviation("heart-rate-low", read(90, delay_s=20), RATE),
            "delay 5 s",
            "delay 20 s",
            "Heart rate alarms with delay 20 s instead of delay 5 s.",
        ),
        (
            deviation("heart-rate-low", read(90, priority="low", latching=False), RATE),
            "medium priority, latching",
            "low priority, not latching",
            "Heart rate alarms with low priority, not latching instead of "
            "medium priority, latching.",
        ),
        # in another unit, told in the unit that was read
        (
            deviation("etco2-high", read(9.5, unit="kPa"), on(60)),
            8,
            9.5,
            "EtCO₂ can rise from 8 to 9.5 kPa unannounced.",
        ),
        (
            deviation("etco2-high", read(9.5), on(60), etco2_unit="kPa"),
            8,
            9.5,
            "EtCO₂ can rise from 8 to 9.5 kPa unannounced.",
        ),
        (
            deviation("etco2-high", read(70, unit="mm[Hg]"), on(60)),
            60,
            70,
            "EtCO₂ can rise from 60 to 70 mmHg unannounced.",
        ),
        # the deep line
        (
            deviation("heart-rate-low.deep", read(50), DEEP),
            60,
            50,
            "Heart rate can fall from 60 to 50 /min before the deep line sounds.",
        ),
        (
            deviation("heart-rate-low.deep", FoundOff(), DEEP),
            60,
            "off",
            "Heart rate sounds no further low alarm at the deep line.",
        ),
        (
            deviation("heart-rate-low.deep", read(50), on(90)),
            "off",
            50,
            "Heart rate sounds an alarm that the policy has off.",
        ),
        # options
        (
            deviation("longest-pause-s", read(300), 120),
            120,
            300,
            "Longest pause is 300 s instead of 120 s.",
        ),
        (
            deviation("longest-pause-s", FoundText("off"), True),
            "on",
            "off",
            "Longest pause is off instead of on.",
        ),
        (
            deviation("longest-pause-s", FoundText("permanent"), 120),
            120,
            "permanent",
            "A pause may last for ever: alarms stay silent once they were paused. "
            "Longest pause is permanent instead of 120 s.",
        ),
        (
            deviation("longest-pause-s", CouldNotRead("locked"), "short"),
            "short",
            "could-not-read: locked",
            "Longest pause could not be read.",
        ),
        (
            deviation("heart-rate-low", read(95, priority="low"), RATE),
            90,
            95,
            "Heart rate alarms with low priority instead of medium priority, although it sounds "
            "already at 95 /min.",
        ),
        (
            deviation("heart-rate-low", read(85, priority="high"), RATE),
            90,
            85,
            "Heart rate can fall from 90 to 85 /min unannounced.",
        ),
    ],
)
def test_a_deviation_says_what_it_means(
    found: DeviceDeviation, signed: object, read_: object, said: str
) -> None:
    assert (signed_value(found), found_value(found)) == (signed, read_)
    assert consequence(found) == said
