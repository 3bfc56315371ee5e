"""A file of readings against a profile: which readings count, and what is said of a device."""

import json
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest

from app.domain.audit import Audit, ReadingRow, audit
from app.domain.device_reports import (
    CouldNotRead,
    FoundNotFitted,
    FoundOff,
    FoundText,
    Reading,
    StateRead,
    Told,
)
from app.domain.option_judgement import ANY_PRESET
from app.domain.profiles import Profile
from app.exchange.profile_json import parse_profile
from tests.domain.presets import read
from tests.worked_profiles import document, on

MORNING = datetime(2026, 3, 1, 8, tzinfo=UTC)
LATITUDE = {"from": 80, "to": 100, "off_by": "crew"}


def policy(settings: dict[str, Any] | None = None, **more: Any) -> Profile:
    stated = settings or {"heart-rate-low": on(90), "spo2-low": on(90)}
    return parse_profile(json.dumps(document({"child": ("1 y", "5 y", stated)}, **more)))


def row(
    reading: Reading,
    alarm: str = "heart-rate-low",
    *,
    device: str = "boat-3",
    state: str = "power-on",
    minutes: int = 0,
    preset: str = "child",
    model: str | None = None,
    off: int | None = None,
) -> ReadingRow:
    at = MORNING + timedelta(minutes=minutes)
    told = Told(minutes_off=off)
    return ReadingRow(2, device, at, StateRead(state), preset, alarm, reading, model, told)


def whole(device: str, heart_rate: float = 90) -> list[ReadingRow]:
    return [
        row(read(heart_rate), device=device),
        row(read(90), "spo2-low", device=device),
    ]


def told(result: Audit) -> list[tuple[str, str, str]]:
    return [(f.device, f.deviation.alarm, f.deviation.direction.value) for f in result.deviations]


def tally(result: Audit) -> tuple[int, int, int]:
    return result.conformity.holds, result.conformity.differs, result.conformity.not_judged


# --- which readings count


@pytest.mark.parametrize(
    ("state", "counts"),
    [
        ("power-on", (0, 1, 0)),
        ("after-category", (0, 1, 0)),
        ("in-use", (0, 0, 1)),
        ("stored-preset", (0, 0, 1)),
    ],
)
def test_only_power_on_and_after_category_say_what_a_device_holds(
    state: str, counts: tuple[int, int, int]
) -> None:
    """The deviation itself is told in every state."""
    result = audit(policy(), [row(read(70), state=state)])

    assert told(result) == [("boat-3", "heart-rate-low", "looser")]
    assert tally(result) == counts


@pytest.mark.parametrize(
    ("found", "tailored"),
    [
        (read(79), False),
        (read(80), True),
        (read(100), True),
        (read(101), False),
        (FoundOff(), True),
        (FoundNotFitted(), False),
        (read(85, delay_s=0, priority="medium"), True),
        # a crew may change the limit, not what else belongs to the alarm
        (read(85, priority="low"), False),
        (read(85, delay_s=20), False),
        (read(85, latching=True), False),
    ],
)
def test_in_use_within_the_latitude_is_tailored(found: Reading, tailored: bool) -> None:
    profile = policy({"heart-rate-low": on(90, latitude=LATITUDE)})

    result = audit(profile, [row(found, state="in-use")])

    assert (told(result) == []) is tailored


@pytest.mark.parametrize(("off_by", "tailored"), [("crew", True), ("medical-control", False)])
def test_off_in_use_is_tailored_where_the_crew_may(off_by: str, tailored: bool) -> None:
    profile = policy({"heart-rate-low": on(90, latitude={"off_by": off_by})})

    result = audit(profile, [row(FoundOff(), state="in-use")])

    assert (told(result) == []) is tailored


@pytest.mark.parametrize(
    ("found", "tailored"),
    [
        (read(52), False),
        (read(53), True),  # 7 kPa is 52.5 mmHg, rounded up half way
        (read(68), True),  # 9 kPa is 67.5 mmHg
        (read(69), False),
        (read(7.0, unit="kPa"), True),
        (read(9.1, unit="kPa"), False),
    ],
)
def test_a_latitude_is_compared_in_the_unit_of_the_reading(found: Reading, tailored: bool) -> None:
    signed = on(8, unit="kPa", latitude={"from": 7, "to": 9, "off_by": "nobody"})

    result = audit(policy({"etco2-high": signed}), [row(found, "etco2-high", state="in-use")])

    assert (told(result) == []) is tailored


def test_no_latitude_at_power_on() -> None:
    profile = policy({"heart-rate-low": on(90, latitude=LATITUDE)})

    assert told(audit(profile, [row(read(85))])) == [("boat-3", "heart-rate-low", "looser")]


def test_the_latest_reading_of_an_alarm_counts() -> None:
    early, late = row(read(70)), row(read(90), minutes=1)

    assert told(audit(policy(), [early, late])) == []
    assert told(audit(policy(), [late, early])) == []


def test_two_readings_at_one_time_both_count() -> None:
    rows = [row(read(90)), row(read(70), state="after-category")]

    assert told(audit(policy(), rows)) == [("boat-3", "heart-rate-low", "looser")]


# --- the pause before it was switched on

DUNLIN: dict[str, Any] = {
    "dunlin": {"presets": {"child": {"carries": "child"}}, "retention_min": 2},
    "petrel": {"presets": {"child": {"carries": "child"}}},
}
SHORT = "off for only 2 min, and this model keeps what a crew changed for 2 min: it does not count"


@pytest.mark.parametrize(
    ("off", "model", "counts", "pauses"),
    [
        (1, "dunlin", (0, 0, 1), SHORT.replace("only 2", "only 1")),
        (2, "dunlin", (0, 0, 1), SHORT),
        (3, "dunlin", (0, 1, 0), ""),
        (None, "dunlin", (0, 1, 0), "minutes off not recorded"),
        (1, "petrel", (0, 1, 0), ""),  # nobody has tested for how long it keeps anything
        (1, None, (0, 1, 0), ""),
    ],
)
def test_power_on_after_too_short_a_pause_does_not_count(
    off: int | None, model: str | None, counts: tuple[int, int, int], pauses: str
) -> None:
    """What was found is told all the same."""
    profile = policy({"heart-rate-low": on(90)}, models=DUNLIN)

    result = audit(profile, [row(read(70), model=model, off=off)])

    assert told(result) == [("boat-3", "heart-rate-low", "looser")]
    assert tally(result) == counts
    assert result.pauses == ({"boat-3": pauses} if pauses else {})


def test_a_longer_pause_before_or_after_it_counts() -> None:
    profile = policy({"heart-rate-low": on(90)}, models=DUNLIN)
    good = row(read(90), model="dunlin", off=10)
    hasty = row(read(70), model="dunlin", off=1, minutes=30)

    assert tally(audit(profile, [good, hasty])) == (1, 0, 0)


# --- what is said of a device


def test_a_device_holds_when_every_alarm_set_on_or_off_was_read_and_conforms() -> None:
    assert tally(audit(policy(), whole("boat-3"))) == (1, 0, 0)


@pytest.mark.parametrize(
    ("settings", "counts"),
    [
        ({"heart-rate-low": on(90), "spo2-low": on(90)}, (0, 0, 1)),
        ({"heart-rate-low": on(90), "spo2-low": {"state": "off", "reason": "x"}}, (0, 0, 1)),
        ({"heart-rate-low": on(90), "spo2-low": {"state": "not-fitted"}}, (1, 0, 0)),
        ({"heart-rate-low": on(90), "spo2-low": {"state": "no-policy"}}, (1, 0, 0)),
        ({"heart-rate-low": on(90)}, (1, 0, 0)),
    ],
)
def test_a_device_that_was_read_in_part_is_not_judged(
    settings: dict[str, Any], counts: tuple[int, int, int]
) -> None:
    result = audit(policy(settings), [row(read(90))])

    assert tally(result) == counts
    assert result.not_judged == ({"boat-3": "0 of 1 presets read"} if counts[2] else {})


def test_a_device_that_was_read_in_part_and_deviates_differs() -> None:
    assert tally(audit(policy(), [row(read(70))])) == (0, 1, 0)


def test_what_could_not_be_read_is_told_but_is_no_straying() -> None:
    rows = [row(read(90)), row(CouldNotRead("glare"), "spo2-low")]

    result = audit(policy(), rows)

    assert told(result) == [("boat-3", "spo2-low", "unread")]
    assert tally(result) == (0, 0, 1)


def test_what_could_not_be_read_the_last_time_is_not_known_from_before() -> None:
    later = row(CouldNotRead("glare"), "spo2-low", minutes=5)

    assert tally(audit(policy(), [*whole("boat-3"), later])) == (0, 0, 1)
    assert tally(audit(policy(), [later, row(read(90), "spo2-low", minutes=6), row(read(90))])) == (
        1,
        0,
        0,
    )


def test_every_preset_of_every_device_is_due() -> None:
    bands = {
        "child": ("1 y", "5 y", {"heart-rate-low": on(90)}),
        "adult": ("5 y", None, {"heart-rate-low": on(50)}),
    }
    profile = parse_profile(json.dumps(document(bands)))

    half = audit(profile, [row(read(90))])
    both = audit(profile, [row(read(90)), row(read(50), preset="adult")])

    assert half.not_judged == {"boat-3": "1 of 2 presets read"}
    assert tally(both) == (1, 0, 0)


# --- shares


def test_without_a_fleet_the_share_is_wilsons() -> None:
    """20 of 20: 83.9 to 100 %."""
    rows = [found for n in range(20) for found in whole(f"boat-{n}")]

    share = audit(policy(), rows).conformity.share

    assert share.low == pytest.approx(0.8389, abs=1e-4)
    assert (share.high, share.method) == (1.0, "Wilson")


def test_with_a_known_fleet_the_share_is_exact() -> None:
    """All four devices of a fleet of four were read: nothing is left to doubt."""
    rows = [found for n in range(3) for found in whole(f"boat-{n}")] + whole("boat-3", 70)

    conformity = audit(policy(), rows, fleet=4).conformity

    assert (conformity.holds, conformity.differs, conformity.fleet) == (3, 1, 4)
    assert (conformity.share.low, conformity.share.high) == (0.75, 0.75)
    assert conformity.share.method == "hypergeometric"


def test_a_fleet_smaller_than_the_devices_judged_is_refused() -> None:
    with pytest.raises(ValueError, match="smaller"):
        audit(policy(), whole("boat-1") + whole("boat-2"), fleet=1)


def test_no_reading_says_nothing() -> None:
    result = audit(policy(), [])

    assert tally(result) == (0, 0, 0)
    assert (result.conformity.share.low, result.conformity.share.high) == (0.0, 1.0)


# --- options


@pytest.mark.parametrize(
    ("signed", "found", "direction"),
    [
        (120, read(120), None),
        (120, read("120.0"), None),
        (120, read(180), "other"),
        (120, FoundText("none"), "other"),
        (120, CouldNotRead("locked"), "unread"),
        ("adult", FoundText("Adult"), None),
        ("adult", FoundText("child"), "other"),
        (True, FoundText("on"), None),
        (True, FoundText("true"), None),
        (True, FoundText("off"), "other"),
        (False, FoundText("off"), None),
        (False, FoundText("on"), "other"),
        (True, read(1), "other"),
    ],
)
def test_an_option_is_as_signed_or_it_is_not(
    signed: object, found: Reading, direction: str | None
) -> None:
    profile = policy(options={"longest-pause-s": {"value": signed}})

    result = audit(profile, [row(found, "longest-pause-s", preset=ANY_PRESET)])

    assert told(result) == ([("boat-3", "longest-pause-s", direction)] if direction else [])
    assert tally(result)[1] == (1 if direction == "other" else 0)


def test_the_limit_that_was_found_and_the_one_that_was_signed_stand_side_by_side() -> None:
    (found,) = audit(policy(), [row(read(70), minutes=5)]).deviations

    assert found.read_at == MORNING + timedelta(minutes=5)
    assert found.rendered is not None
    assert found.rendered.values("heart-rate-low") == {Decimal(90)}
    assert found.state_read is StateRead.POWER_ON


def test_what_is_held_after_choosing_a_category_says_nothing_of_power_on() -> None:
    rows = [
        row(read(70)),
        row(read(90), state="after-category", minutes=5),
        row(read(90), "spo2-low", state="after-category", minutes=5),
    ]

    result = audit(policy(), rows)

    assert told(result) == [("boat-3", "heart-rate-low", "looser")]
    assert tally(result) == (0, 1, 0)


def test_the_same_deviation_in_both_states_is_told_once() -> None:
    rows = [row(read(70)), row(read(70), state="after-category", minutes=5)]

    assert told(audit(policy(), rows)) == [("boat-3", "heart-rate-low", "looser")]


@pytest.mark.parametrize(
    ("key", "signed", "found", "severity"),
    [
        ("spo2-averaging-s", 8, read(30), "off-protocol"),
        ("spo2-averaging-s", 8, read(31), "unsafe"),
        ("spo2-averaging-s", 8, CouldNotRead("menu locked"), "note"),
        ("longest-pause-s", 120, read(180), "off-protocol"),
        ("longest-pause-s", 120, FoundText("permanent"), "unsafe"),
        ("all-alarms-on-at-start", True, FoundText("off"), "unsafe"),
        ("audio-volume", 60, read(0), "unsafe"),
        ("audio-volume", 60, read(1), "off-protocol"),
    ],
)
def test_an_option_that_silences_is_unsafe(
    key: str, signed: object, found: Reading, severity: str
) -> None:
    profile = policy(options={key: {"value": signed}})

    (deviation,) = audit(profile, [row(found, key, preset=ANY_PRESET)]).deviations

    assert deviation.deviation.severity.value == severity
