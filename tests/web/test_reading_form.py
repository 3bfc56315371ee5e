from datetime import UTC, datetime
from decimal import Decimal

import pytest

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
from app.domain.new_reports import NewReport
from app.web.reading_form import asked, report_from

BASE = {
    "state_read": "power-on",
    "key": "k",
    "opened_at": "2026-03-02T09:00:00.123456+00:00",
}


def parsed(typed: dict[str, str], *alarms: str, zone: str = "Europe/London") -> NewReport:
    return report_from(BASE | typed, device="boat-3", preset="CHILD", alarms=alarms, zone=zone)


def faults(typed: dict[str, str], *alarms: str) -> list[tuple[object, str]]:
    with pytest.raises(Refused) as refused:
        parsed(typed, *alarms)
    return [(fault.column, fault.reason) for fault in refused.value.faults]


@pytest.mark.parametrize(
    ("typed", "reading"),
    [
        ({"spo2-low": "90"}, FoundOn(Decimal(90))),
        ({"spo2-low": " 90 "}, FoundOn(Decimal(90))),
        ({"spo2-low": "40"}, FoundOn(Decimal(40))),
        ({"spo2-low": "39", "spo2-low.sure": "yes"}, FoundOn(Decimal(39))),
        ({"spo2-low.found": "off"}, FoundOff()),
        ({"spo2-low.found": "not-fitted"}, FoundNotFitted()),
        ({"spo2-low.found": "not-read"}, NotRead()),
        ({"spo2-low.found": "could-not-read", "spo2-low.why": " dark "}, CouldNotRead("dark")),
        ({"rest": "yes"}, NotRead()),
    ],
)
def test_each_way_to_answer(typed: dict[str, str], reading: Reading) -> None:
    assert parsed(typed, "spo2-low").readings == {"spo2-low": reading}


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

    assert parsed({alarm: number, f"{alarm}.unit": unit}, alarm).readings == {alarm: reading}
    assert unit in asked(alarm).units


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        ({"etco2-low": "35"}, "say the unit: mmHg or kPa"),
        ({"etco2-low": "35", "etco2-low.unit": "bar"}, "say the unit: mmHg or kPa"),
        ({"etco2-low": "35", "etco2-low.unit": "kPa"}, "outside 1 to 150 mmHg"),
        ({"etco2-low": "-4"}, "write a number"),
        ({"etco2-low": "4e3"}, "write a number"),
        ({"etco2-low": "NaN"}, "write a number"),
        ({"etco2-low": "٣٥"}, "write a number"),
        ({"etco2-low.found": "on"}, "nothing is entered"),
        ({"etco2-low.found": "could-not-read", "etco2-low.why": "\x00"}, "say why"),
    ],
)
def test_a_slip_is_told_at_its_alarm(typed: dict[str, str], told: str) -> None:
    ((column, reason),) = faults(typed, "etco2-low")

    assert column == "etco2-low"
    assert told in reason


def test_an_event_without_a_threshold_is_on_and_that_is_all() -> None:
    assert parsed({"asystole.found": "on"}, "asystole").readings == {"asystole": FoundOn()}
    assert faults({"asystole": "5"}, "asystole")[0][1] == "write a number, such as 90"


def test_every_fault_is_told_at_once() -> None:
    found = faults(
        {"state_read": "off", "minutes_off": "1.5", "read_at": "noon"}, "spo2-low", "asystole"
    )

    assert [column for column, _ in found] == [
        "spo2-low",
        "asystole",
        "state_read",
        "minutes_off",
        "read_at",
    ]


@pytest.mark.parametrize(
    ("typed", "zone", "read_at"),
    [
        ("", "Europe/London", datetime(2026, 3, 2, 9, 0, 0, 123456, UTC)),
        ("2026-07-01T09:30", "Europe/London", datetime(2026, 7, 1, 8, 30, tzinfo=UTC)),
        ("2026-01-01T09:30", "Europe/London", datetime(2026, 1, 1, 9, 30, tzinfo=UTC)),
        ("2026-01-01T09:30:15", "Asia/Tokyo", datetime(2026, 1, 1, 0, 30, 15, tzinfo=UTC)),
    ],
)
def test_the_time_is_the_typed_one_in_its_zone_or_when_the_form_was_opened(
    typed: str, zone: str, read_at: datetime
) -> None:
    report = parsed({"read_at": typed, "rest": "yes"}, "spo2-low", zone=zone)

    assert report.read_at == read_at


def test_a_time_before_all_time_is_refused() -> None:
    with pytest.raises(Refused, match="no date and time"):
        parsed({"read_at": "0001-01-01T00:00", "rest": "yes"}, "spo2-low", zone="Asia/Tokyo")


def test_what_is_told_besides() -> None:
    report = parsed(
        {"state_read": "in-use", "software": "3.2", "trigger": "census", "minutes_off": "10"}
    )

    assert (report.state_read, report.minutes_off) == (StateRead.IN_USE, 10)
    assert (report.software, report.trigger, report.idempotency_key) == ("3.2", "census", "k")
    assert parsed({}).minutes_off is None
