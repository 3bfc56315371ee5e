from decimal import Decimal

import pytest

from app.domain.device_models import DeviceModel, Grid
from app.domain.device_reports import (
    CouldNotRead,
    FoundNotFitted,
    FoundOff,
    FoundOn,
    NotRead,
    Reading,
    StateRead,
)
from app.domain.errors import Refused
from app.domain.settings_of_alarms import Priority
from app.domain.triggers import Trigger
from app.web.reading_form import asked, readings_from, start_from

TURNSTONE = DeviceModel(
    "turnstone",
    (),
    {
        "heart-rate-high": Grid(Decimal(20), Decimal(250), Decimal(5)),
        "spo2-low": Grid(Decimal(50), Decimal(100), Decimal(1), can_be_off=False),
        "etco2-low": Grid(Decimal(0), Decimal(13), Decimal("0.1")),
    },
    etco2_unit="kPa",
)


def parsed(typed: dict[str, str], *alarms: str) -> dict[str, Reading]:
    return readings_from(typed, [asked(alarm, TURNSTONE) for alarm in alarms])


def faults(typed: dict[str, str], *alarms: str) -> list[tuple[object, str]]:
    with pytest.raises(Refused) as refused:
        parsed(typed, *alarms)
    return [(fault.column, fault.reason) for fault in refused.value.faults]


@pytest.mark.parametrize(
    ("typed", "reading"),
    [
        ({"apnoea": "20"}, FoundOn(Decimal(20))),
        ({"apnoea": " 20 "}, FoundOn(Decimal(20))),
        ({"apnoea": "120"}, FoundOn(Decimal(120))),
        ({"apnoea": "121", "apnoea.sure": "yes"}, FoundOn(Decimal(121))),
        ({"apnoea.found": "off"}, FoundOff()),
        ({"apnoea.found": "not-fitted"}, FoundNotFitted()),
        ({"apnoea.found": "could-not-read", "apnoea.why": " dark "}, CouldNotRead("dark")),
        ({"rest": "yes"}, NotRead()),
    ],
)
def test_each_way_to_answer(typed: dict[str, str], reading: Reading) -> None:
    assert parsed(typed, "apnoea") == {"apnoea": reading}


@pytest.mark.parametrize(
    ("alarm", "typed", "reading"),
    [
        ("etco2-low", ("4.7", "kPa"), FoundOn(Decimal("4.7"), "kPa")),
        ("etco2-low", ("4,7", "kPa"), FoundOn(Decimal("4.7"), "kPa")),
        ("etco2-low", ("35", "mm[Hg]"), FoundOn(Decimal(35), "mm[Hg]")),
        ("temperature-high", ("101.3", "[degF]"), FoundOn(Decimal("101.3"), "[degF]")),
    ],
)
def test_where_devices_differ_the_unit_is_asked(
    alarm: str, typed: tuple[str, str], reading: Reading
) -> None:
    number, unit = typed

    assert parsed({alarm: number, f"{alarm}.unit": unit}, alarm) == {alarm: reading}
    assert unit in asked(alarm, TURNSTONE).grids


@pytest.mark.parametrize(
    ("alarm", "typed", "told"),
    [
        ("etco2-low", {"etco2-low": "35"}, "say the unit: mmHg or kPa"),
        ("etco2-low", {"etco2-low": "35", "etco2-low.unit": "bar"}, "say the unit: mmHg or kPa"),
        ("etco2-low", {"etco2-low": "35", "etco2-low.unit": "kPa"}, "goes from 0 to 13 kPa"),
        ("etco2-low", {"etco2-low.found": "on"}, "nothing is entered"),
        ("heart-rate-high", {"heart-rate-high": "-4"}, "write a number"),
        ("heart-rate-high", {"heart-rate-high": "4e3"}, "write a number"),
        ("heart-rate-high", {"heart-rate-high": "NaN"}, "write a number"),
        ("heart-rate-high", {"heart-rate-high": "٣٥"}, "write a number"),
        ("heart-rate-high", {"heart-rate-high": "92"}, "a turnstone goes in steps of 5: 90 or 95"),
        ("heart-rate-high", {"heart-rate-high": "255"}, "a turnstone goes from 20 to 250 /min"),
        ("spo2-low", {"spo2-low.found": "off"}, "a turnstone cannot switch this off"),
        ("spo2-low", {"spo2-low": "90", "spo2-low.found": "off"}, "not both"),
        ("apnoea", {"apnoea.found": "could-not-read", "apnoea.why": "\x00"}, "say why"),
        ("apnoea", {"apnoea": "121"}, "look again, then tick “it is so”"),
        ("asystole", {"asystole": "5"}, "write a number"),
        ("asystole", {}, "nothing is entered"),
    ],
)
def test_a_slip_is_told_at_its_alarm(alarm: str, typed: dict[str, str], told: str) -> None:
    ((column, reason),) = faults(typed, alarm)

    assert column == alarm
    assert told in reason


@pytest.mark.parametrize(
    ("typed", "reading"),
    [
        ({"spo2-low.found": "off", "spo2-low.sure": "yes"}, FoundOff()),
        ({"spo2-low": "49", "spo2-low.sure": "yes"}, FoundOn(Decimal(49))),
    ],
)
def test_what_the_device_cannot_show_is_taken_after_a_second_look(
    typed: dict[str, str], reading: Reading
) -> None:
    assert parsed(typed, "spo2-low") == {"spo2-low": reading}


def test_an_event_without_a_threshold_is_on_and_that_is_all() -> None:
    assert parsed({"asystole.found": "on"}, "asystole") == {"asystole": FoundOn()}


def test_a_deep_line_is_asked_as_one_of_its_own() -> None:
    one = asked("heart-rate-high.deep", TURNSTONE)

    assert one.label == "Heart rate high, deep line"
    assert readings_from({"heart-rate-high.deep": "200"}, [one]) == {
        "heart-rate-high.deep": FoundOn(Decimal(200))
    }


HEART = {"heart-rate-high": "170"}
TOLD = {
    "heart-rate-high.priority": "medium",
    "heart-rate-high.delay": "10",
    "heart-rate-high.latching": "no",
}
UNSEEN = {
    "heart-rate-high.priority": "unseen",
    "heart-rate-high.delay.unseen": "yes",
    "heart-rate-high.latching": "unseen",
}


@pytest.mark.parametrize(
    ("told", "found"),
    [
        (TOLD, FoundOn(Decimal(170), None, Priority.MEDIUM, Decimal(10), latching=False)),
        (
            TOLD | {"heart-rate-high.delay": "0,5", "heart-rate-high.latching": "yes"},
            FoundOn(Decimal(170), None, Priority.MEDIUM, Decimal("0.5"), latching=True),
        ),
        (UNSEEN, FoundOn(Decimal(170))),
        ({"rest": "yes"}, FoundOn(Decimal(170))),
        (
            {"rest": "yes"} | TOLD,
            FoundOn(Decimal(170), None, Priority.MEDIUM, Decimal(10), latching=False),
        ),
    ],
)
def test_of_some_alarms_more_is_asked(told: dict[str, str], found: Reading) -> None:
    one = asked("heart-rate-high", TURNSTONE, closely=True)

    assert readings_from(HEART | told, [one]) == {"heart-rate-high": found}


@pytest.mark.parametrize(
    ("wrong", "told"),
    [
        ({"heart-rate-high.priority": ""}, "say its priority"),
        ({"heart-rate-high.priority": "urgent"}, "say its priority"),
        ({"heart-rate-high.latching": ""}, "say its latching"),
        ({"heart-rate-high.delay": ""}, "write its delay"),
        ({"heart-rate-high.delay": "-3"}, "write its delay"),
        ({"heart-rate-high.delay": "1000"}, "write its delay"),
    ],
)
def test_it_is_not_left_out_by_a_slip(wrong: dict[str, str], told: str) -> None:
    one = asked("heart-rate-high", TURNSTONE, closely=True)

    with pytest.raises(Refused, match=told) as refused:
        readings_from(HEART | TOLD | wrong, [one])
    assert [fault.column for fault in refused.value.faults] == ["heart-rate-high"]


def test_an_alarm_that_is_off_has_neither_priority_nor_delay() -> None:
    one = asked("heart-rate-high", TURNSTONE, closely=True)

    assert readings_from({"heart-rate-high.found": "off"}, [one]) == {"heart-rate-high": FoundOff()}


def test_a_deep_line_has_no_latching_of_its_own() -> None:
    assert not asked("heart-rate-high.deep", TURNSTONE, closely=True).latches


def test_every_fault_is_told_at_once() -> None:
    found = faults({"apnoea": "x"}, "spo2-low", "asystole", "apnoea")

    assert [column for column, _ in found] == ["spo2-low", "asystole", "apnoea"]


BEGUN = {
    "preset": "CHILD",
    "state_read": "in-use",
    "trigger": "after an incident",
    "software": " 3.2 ",
    "minutes_off": "10",
    "device_clock": "08:01",
    "key": "k",
}


def test_what_is_told_at_the_beginning() -> None:
    new = start_from(BEGUN, device="boat-3")

    assert (new.device, new.preset, new.key) == ("boat-3", "CHILD", "k")
    assert (new.state_read, new.trigger) == (StateRead.IN_USE, Trigger.INCIDENT)
    assert (new.software, new.minutes_off, new.device_clock) == ("3.2", 10, "08:01")


@pytest.mark.parametrize(
    ("column", "wrong"),
    [
        ("preset", ""),
        ("state_read", ""),
        ("state_read", "asleep"),
        ("trigger", ""),
        ("trigger", "because"),
        ("software", " "),
        ("minutes_off", "1.5"),
        ("minutes_off", "ten"),
    ],
)
def test_what_a_reading_needs_is_told_at_its_field(column: str, wrong: str) -> None:
    with pytest.raises(Refused) as refused:
        start_from(BEGUN | {column: wrong}, device="boat-3")

    assert [fault.column for fault in refused.value.faults] == [column]


def test_nobody_has_to_know_how_long_it_was_off() -> None:
    assert start_from(BEGUN | {"minutes_off": ""}, device="boat-3").minutes_off is None
