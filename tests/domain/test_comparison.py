"""What was found against what was signed: direction and severity, row by row.

The signed settings are of 1-5 years, where danger is heart rate below 60 and above 180.
"""

from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.domain.alarm_conditions import ALARM_CONDITIONS
from app.domain.comparison import Deviation, compare_preset
from app.domain.device_reports import (
    CouldNotRead,
    FoundNotFitted,
    FoundOff,
    FoundOn,
    NotRead,
    Reading,
)
from app.domain.rendering import RenderedPreset
from app.domain.settings_of_alarms import On
from tests.domain.presets import preset_of, read
from tests.domain.rules.questions import NO_POLICY, NOT_FITTED, OFF
from tests.worked_profiles import limits, on


def told(
    signed: dict[str, Any], readings: dict[str, Reading], **preset: Any
) -> list[tuple[str, str, str]]:
    found = compare_preset(preset_of(signed, **preset), readings)
    return [(f.alarm, f.direction.value, f.severity.value) for f in found]


def verdict(
    alarm: str, signed: dict[str, Any] | None, found: Reading, **preset: Any
) -> tuple[str, str] | None:
    deviations = told({alarm: signed} if signed else {}, {alarm: found}, **preset)
    return deviations[0][1:] if deviations else None


# --- states


@pytest.mark.parametrize(
    ("signed", "found", "direction"),
    [
        (on(90), read(90), None),
        (on(90), FoundOff(), "switched-off"),
        (on(90), FoundNotFitted(), "switched-off"),
        (on(90), CouldNotRead("glare"), "unread"),
        (on(90), NotRead(), None),
        (OFF, read(90), "switched-on"),
        (OFF, FoundOff(), None),
        (OFF, FoundNotFitted(), None),
        (OFF, CouldNotRead("glare"), "unread"),
        (NOT_FITTED, read(90), "switched-on"),
        (NOT_FITTED, FoundOff(), None),
        (NOT_FITTED, FoundNotFitted(), None),
        (NO_POLICY, read(90), None),
        (NO_POLICY, FoundOff(), None),
        (NO_POLICY, CouldNotRead("glare"), None),
        (None, read(90), None),
        (None, FoundOff(), None),
    ],
)
def test_states_are_compared_before_numbers(
    signed: dict[str, Any] | None, found: Reading, direction: str | None
) -> None:
    judged = verdict("heart-rate-low", signed, found)

    assert (judged and judged[0]) == direction


# --- numbers: as signed, one step looser, one step tighter


@pytest.mark.parametrize(
    ("alarm", "limit", "found", "direction"),
    [
        ("heart-rate-low", 90, 90, None),
        ("heart-rate-low", 90, 89, "looser"),
        ("heart-rate-low", 90, 91, "tighter"),
        ("heart-rate-high", 170, 170, None),
        ("heart-rate-high", 170, 171, "looser"),
        ("heart-rate-high", 170, 169, "tighter"),
        ("apnoea", 20, 20, None),
        ("apnoea", 20, 21, "looser"),
        ("apnoea", 20, 19, "tighter"),
        ("vpc-rate", 10, 11, "looser"),
        ("temperature-high", 38.5, 38.6, "looser"),
        ("temperature-high", 38.5, "38.50", None),
    ],
)
def test_looser_is_toward_fewer_alarms(
    alarm: str, limit: float, found: float | str, direction: str | None
) -> None:
    judged = verdict(alarm, on(limit), read(found))

    assert (judged and judged[0]) == direction


@pytest.mark.parametrize(
    ("found", "direction"),
    [
        (read(90, delay_s=5), None),
        (read(90, delay_s=6), "looser"),
        (read(90, delay_s=4), "tighter"),
        (read(90, priority="medium"), None),
        (read(90, priority="low"), "looser"),
        (read(90, priority="high"), "tighter"),
        (read(90, latching=True), None),
        (read(90, latching=False), "looser"),
        # what was not looked at is not compared
        (read(90), None),
        # looser in one thing and tighter in another: a patient may be missed, so looser
        (read(91, delay_s=6), "looser"),
        (read(89, delay_s=4), "looser"),
        (read(91, priority="low"), "looser"),
        (read(91, delay_s=4), "tighter"),
    ],
)
def test_delay_priority_and_latching_have_a_direction(
    found: Reading, direction: str | None
) -> None:
    signed = on(90, delay_s=5, priority="medium", latching=True)

    judged = verdict("heart-rate-low", signed, found)

    assert (judged and judged[0]) == direction


def test_latching_that_was_added_is_tighter() -> None:
    assert verdict("asystole", on(None), read(None, latching=True)) == ("tighter", "off-protocol")


def test_a_blank_of_a_draft_is_not_compared() -> None:
    blank = {"state": "on", "limit": 90}

    found = read(90, priority="low", delay_s=60, latching=True)

    assert verdict("heart-rate-low", blank, found) is None


@pytest.mark.parametrize(
    ("signed", "found", "direction"),
    [
        (on(60), read(8.0, unit="kPa"), None),
        (on(60), read(7.9, unit="kPa"), None),  # rounded toward the earlier alarm
        (on(60), read(8.1, unit="kPa"), "looser"),
        (on(60), read(7.8, unit="kPa"), "tighter"),
        (on(8, unit="kPa"), read(60), None),
        (on(8, unit="kPa"), read(61), "looser"),
        (on(8, unit="kPa"), read(59), "tighter"),
        (on(8, unit="kPa"), read(8.0, unit="kPa"), None),
        (on(8, unit="kPa"), read(8.1, unit="kPa"), "looser"),
    ],
)
def test_a_value_in_another_unit_conforms_where_it_is_the_signed_one_rounded(
    signed: dict[str, Any], found: Reading, direction: str | None
) -> None:
    judged = verdict("etco2-high", signed, found)

    assert (judged and judged[0]) == direction


@pytest.mark.parametrize(("found", "direction"), [(95, None), (91, "looser"), (100, "tighter")])
def test_a_reading_is_held_against_the_rendered_value(found: float, direction: str | None) -> None:
    grid = {"heart-rate-low": {"from": 30, "to": 200, "step": 5}}

    judged = verdict("heart-rate-low", on(91), read(found), grid=grid)

    assert (judged and judged[0]) == direction


# --- the deep line

DEEP = on(90, delay_s=15, deep={"limit": 60, "priority": "high", "delay_s": 0})


@pytest.mark.parametrize(
    ("signed", "found", "judged"),
    [
        (DEEP, read(60), None),
        (DEEP, read(61), ("tighter", "off-protocol")),
        (DEEP, read(59), ("looser", "unsafe")),  # nobody read whether the first line closes 60
        (DEEP, read(60, delay_s=1), ("looser", "off-protocol")),
        (DEEP, read(60, priority="medium"), ("looser", "off-protocol")),
        (DEEP, FoundOff(), ("switched-off", "unsafe")),
        (on(90), read(60), ("switched-on", "off-protocol")),
        (on(90), FoundOff(), None),
        (OFF, read(60), ("switched-on", "off-protocol")),
        (OFF, FoundOff(), None),
    ],
)
def test_the_deep_line_is_compared_by_itself(
    signed: dict[str, Any], found: Reading, judged: tuple[str, str] | None
) -> None:
    deviations = told({"heart-rate-low": signed}, {"heart-rate-low.deep": found})

    assert deviations == ([("heart-rate-low.deep", *judged)] if judged else [])


@pytest.mark.parametrize("found", [read(59), FoundOff()])
def test_where_the_first_line_was_read_it_covers_for_the_deep_one(found: Reading) -> None:
    readings: dict[str, Reading] = {"heart-rate-low": read(90), "heart-rate-low.deep": found}

    [(alarm, _, severity)] = told({"heart-rate-low": DEEP}, readings)

    assert (alarm, severity) == ("heart-rate-low.deep", "off-protocol")


@pytest.mark.parametrize(
    ("deep", "severity"), [(None, "unsafe"), (NotRead(), "unsafe"), (read(60), "off-protocol")]
)
def test_a_deep_line_covers_only_where_it_was_read(deep: Reading | None, severity: str) -> None:
    readings: dict[str, Reading] = {"heart-rate-low": read(50)}
    if deep is not None:
        readings["heart-rate-low.deep"] = deep

    assert told({"heart-rate-low": DEEP}, readings) == [("heart-rate-low", "looser", severity)]


LATE = on(90, delay_s=60, deep={"limit": 60, "priority": "high", "delay_s": 0})


@pytest.mark.parametrize(
    ("found", "severity"),
    [(read(61), "off-protocol"), (read(59), "unsafe"), (FoundOff(), "unsafe")],
)
def test_a_deep_line_that_alone_comes_in_time_is_judged_as_such(
    found: Reading, severity: str
) -> None:
    ((_, _, weight),) = told({"heart-rate-low": LATE}, {"heart-rate-low.deep": found})

    assert weight == severity


@pytest.mark.parametrize(
    ("deep", "severity"),
    [
        (None, "unsafe"),  # the deep line was not looked at: off is off
        (read(60), "off-protocol"),
        (read(59), "unsafe"),
        (FoundOff(), "unsafe"),
    ],
)
def test_a_deep_line_that_was_read_as_on_still_guards_where_the_first_is_off(
    deep: Reading | None, severity: str
) -> None:
    readings: dict[str, Reading] = {"heart-rate-low": FoundOff()}
    if deep is not None:
        readings["heart-rate-low.deep"] = deep

    deviations = {alarm: weight for alarm, _, weight in told({"heart-rate-low": DEEP}, readings)}

    assert deviations["heart-rate-low"] == severity


def test_a_delay_of_the_deep_line_that_was_not_looked_at_is_taken_as_signed() -> None:
    signed = on(90, delay_s=0, deep={"limit": 60, "delay_s": 31})
    readings: dict[str, Reading] = {"heart-rate-low": FoundOff(), "heart-rate-low.deep": read(60)}

    assert told({"heart-rate-low": signed}, readings) == [
        ("heart-rate-low", "switched-off", "unsafe")
    ]


def test_a_deep_line_keeps_its_unit_when_the_limit_is_found_in_another() -> None:
    """Signed below 12 kPa after a minute, below 10 kPa (75 mmHg) at once; danger is below 70."""
    signed = on(12, unit="kPa", delay_s=60, deep={"limit": 10, "delay_s": 0})

    judged = verdict("nibp-systolic-low", signed, read(85, unit="mm[Hg]"))

    assert judged == ("looser", "off-protocol")


# --- severity


@pytest.mark.parametrize(
    ("alarm", "limit", "found", "judged"),
    [
        # the worked example: signed 170, found 200 at 1-5 years, where danger begins above 180
        ("heart-rate-high", 170, read(200), ("looser", "unsafe")),
        ("heart-rate-high", 170, read(181), ("looser", "unsafe")),
        ("heart-rate-high", 170, read(180), ("looser", "off-protocol")),
        ("heart-rate-low", 90, read(60), ("looser", "off-protocol")),
        ("heart-rate-low", 90, read(59), ("looser", "unsafe")),
        ("heart-rate-low", 90, read(90, delay_s=30), ("looser", "off-protocol")),
        ("heart-rate-low", 90, read(90, delay_s=31), ("looser", "unsafe")),
        ("heart-rate-low", 90, FoundOff(), ("switched-off", "unsafe")),
        ("heart-rate-low", 90, FoundNotFitted(), ("switched-off", "unsafe")),
        ("heart-rate-low", 90, read(200), ("tighter", "off-protocol")),
        ("heart-rate-low", 90, CouldNotRead("glare"), ("unread", "note")),
        # a bound of caution alone is no danger
        ("etco2-high", 60, FoundOff(), ("switched-off", "off-protocol")),
        ("spo2-high", 95, FoundOff(), ("switched-off", "off-protocol")),
        ("apnoea", 20, read(30), ("looser", "off-protocol")),
        ("apnoea", 20, read(31), ("looser", "unsafe")),
        # a policy that is itself silent there is not made worse by what leaves it so
        ("heart-rate-high", 185, read(185, priority="low"), ("looser", "off-protocol")),
        ("heart-rate-high", 185, read(186), ("looser", "unsafe")),
    ],
)
def test_it_is_unsafe_where_what_was_found_opens_a_silent_gap_of_danger(
    alarm: str, limit: float, found: Reading, judged: tuple[str, str]
) -> None:
    assert verdict(alarm, on(limit), found) == judged


@pytest.mark.parametrize(
    ("partner", "severity"),
    [(read(60), "off-protocol"), (read(59), "unsafe"), (FoundOff(), "unsafe")],
)
def test_another_alarm_of_the_group_covers_as_it_was_found(partner: Reading, severity: str) -> None:
    signed = {"heart-rate-low": on(90), "pulse-rate-low": on(60)}

    deviations = told(signed, {"heart-rate-low": FoundOff(), "pulse-rate-low": partner})

    assert deviations[0] == ("heart-rate-low", "switched-off", severity)


PAIR = {"heart-rate-low": on(90), "pulse-rate-low": on(60)}


@pytest.mark.parametrize(
    ("pulse", "severity"),
    [
        (None, "unsafe"),
        (NotRead(), "unsafe"),
        (CouldNotRead("no sensor at hand"), "unsafe"),
        (read(59), "unsafe"),
        (read(60), "off-protocol"),
        (read(None), "off-protocol"),
    ],
)
def test_an_alarm_of_the_group_covers_only_where_it_was_read(
    pulse: Reading | None, severity: str
) -> None:
    readings: dict[str, Reading] = {"heart-rate-low": FoundOff()}
    if pulse is not None:
        readings["pulse-rate-low"] = pulse

    assert told(PAIR, readings)[0] == ("heart-rate-low", "switched-off", severity)


@pytest.mark.parametrize(
    ("pulse", "severity"), [(read(60), "off-protocol"), (read(59), "unsafe"), (NotRead(), "unsafe")]
)
def test_what_an_earlier_look_of_the_same_reading_found_covers_too(
    pulse: Reading, severity: str
) -> None:
    deviations = compare_preset(
        preset_of(PAIR), {"heart-rate-low": FoundOff()}, beside={"pulse-rate-low": pulse}
    )

    assert [(one.alarm, one.severity.value) for one in deviations] == [("heart-rate-low", severity)]


@pytest.mark.parametrize("now", [NotRead(), CouldNotRead("dark")])
def test_an_earlier_look_covers_where_this_one_could_not_read_it(now: Reading) -> None:
    readings: dict[str, Reading] = {"heart-rate-low": FoundOff(), "pulse-rate-low": now}

    deviations = compare_preset(preset_of(PAIR), readings, beside={"pulse-rate-low": read(60)})

    assert deviations[0].severity.value == "off-protocol"


def test_a_reading_that_opens_no_gap_of_its_own_is_not_blamed_for_what_was_not_read() -> None:
    """The policy leaves low rates to the pulse rate; nobody read that, and 80 is still above 60."""
    signed = {"heart-rate-low": on(90), "pulse-rate-low": on(90)}

    assert told(signed, {"heart-rate-low": read(80)}) == [
        ("heart-rate-low", "looser", "off-protocol")
    ]


HIGH = on(None, priority="high")


@pytest.mark.parametrize(
    ("signed", "readings", "severities"),
    [
        ({"asystole": HIGH}, {"asystole": FoundOff()}, ["unsafe"]),
        ({"asystole": HIGH}, {"asystole": read(None, priority="medium")}, ["unsafe"]),
        ({"asystole": HIGH}, {"asystole": read(None, priority="high")}, []),
        ({"asystole": HIGH}, {"asystole": FoundNotFitted()}, ["unsafe"]),
        (
            {"irregular-heart-rate": on(None)},
            {"irregular-heart-rate": FoundOff()},
            ["off-protocol"],
        ),
        # one combined alarm counts for both
        (
            {"ventricular-fibrillation": HIGH, "ventricular-tachycardia": HIGH},
            {
                "ventricular-fibrillation": read(None, priority="high"),
                "ventricular-tachycardia": FoundNotFitted(),
            },
            ["off-protocol"],
        ),
        (
            {"ventricular-fibrillation": HIGH, "ventricular-tachycardia": HIGH},
            {
                "ventricular-fibrillation": read(None, priority="low"),
                "ventricular-tachycardia": FoundNotFitted(),
            },
            ["unsafe", "unsafe"],
        ),
        (
            {"ventricular-fibrillation": HIGH, "ventricular-tachycardia": HIGH},
            {"ventricular-fibrillation": FoundOff(), "ventricular-tachycardia": FoundOff()},
            ["unsafe", "unsafe"],
        ),
        # one apnoea alarm is left; with EtCO2 fitted it must be the airway's
        (
            {"vpc-rate": on(10), "airway-apnoea": on(20), "apnoea": on(20), "etco2-high": on(60)},
            {"airway-apnoea": FoundOff()},
            ["unsafe"],
        ),
    ],
)
def test_it_is_unsafe_where_a_threat_to_life_would_pass(
    signed: dict[str, Any], readings: dict[str, Reading], severities: list[str]
) -> None:
    assert [weight for _, _, weight in told(signed, readings)] == severities


def test_averaging_that_was_signed_counts_as_delay() -> None:
    preset = preset_of({"spo2-low": on(92, delay_s=10)})
    found: dict[str, Reading] = {"spo2-low": read(92, delay_s=15)}

    (short,) = compare_preset(preset, found, spo2_averaging_s=Decimal(8))
    (long,) = compare_preset(preset, found, spo2_averaging_s=Decimal(16))

    assert (short.severity, long.severity) == ("off-protocol", "unsafe")


# --- properties

_SIGNED = {**limits(75, 170, 15, 50, 90, 75), "apnoea": on(20), "asystole": HIGH}


def as_rendered(preset: RenderedPreset) -> dict[str, Reading]:
    """What a device that holds exactly the rendered preset would show."""
    readings: dict[str, Reading] = {}
    for alarm, setting in preset.settings.items():
        assert isinstance(setting, On)
        value = min(preset.values(alarm), default=None)
        readings[alarm] = FoundOn(value, None, setting.priority, setting.delay_s, setting.latching)
    return readings


@settings(max_examples=40, deadline=None)
@given(
    step=st.sampled_from([1, 2, 5, 10]),
    start=st.integers(1, 30),
    offset=st.integers(-10, 10),
)
def test_a_rendered_preset_held_against_itself_is_silent(
    step: int, start: int, offset: int
) -> None:
    signed = {
        alarm: on(setting["limit"] + offset if setting["limit"] else None)
        for alarm, setting in _SIGNED.items()
    }
    grid = {
        alarm: {"from": start, "to": 300, "step": step}
        for alarm in signed
        if ALARM_CONDITIONS[alarm].has_threshold
    }
    preset = preset_of(signed, grid=grid)

    assert compare_preset(preset, as_rendered(preset)) == []


@settings(max_examples=80, deadline=None)
@given(
    alarm=st.sampled_from([alarm for alarm in _SIGNED if alarm != "asystole"]),
    by=st.integers(-30, 30).filter(bool),
)
def test_a_planted_deviation_is_found_and_nothing_else(alarm: str, by: int) -> None:
    preset = preset_of(_SIGNED)
    readings = as_rendered(preset)
    held = readings[alarm]
    assert isinstance(held, FoundOn)
    assert held.limit is not None
    readings[alarm] = FoundOn(held.limit + by, None, held.priority, held.delay_s, held.latching)

    (deviation,) = compare_preset(preset, readings)

    looser = (by < 0) == (ALARM_CONDITIONS[alarm].looser == "down")
    assert (deviation.alarm, deviation.direction) == (alarm, "looser" if looser else "tighter")
    assert deviation.found == readings[alarm]
    assert deviation.signed == preset.settings[alarm]


@settings(max_examples=80, deadline=None)
@given(
    alarm=st.sampled_from(["heart-rate-low", "heart-rate-high", "apnoea", "etco2-high"]),
    signed=st.integers(20, 120),
    found=st.integers(20, 120),
)
def test_swapping_the_sides_flips_the_direction(alarm: str, signed: int, found: int) -> None:
    def direction(policy: int, device: int) -> str:
        deviations: list[Deviation] = compare_preset(
            preset_of({alarm: on(policy)}), {alarm: read(device)}
        )
        return deviations[0].direction.value if deviations else "same"

    flipped = {"looser": "tighter", "tighter": "looser", "same": "same"}
    assert direction(found, signed) == flipped[direction(signed, found)]
