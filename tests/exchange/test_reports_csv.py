"""Device reports: a file is taken whole or not at all, every refused row told by its place."""

import io
from datetime import UTC, datetime
from decimal import Decimal
from typing import Any

import pytest

from app.domain.audit import ReadingRow
from app.domain.device_reports import (
    CouldNotRead,
    FoundNotFitted,
    FoundOff,
    FoundOn,
    FoundText,
    Reading,
    StateRead,
)
from app.domain.profiles import Profile
from app.domain.settings_of_alarms import Priority
from app.exchange.csv_text import MOST_FAULTS
from app.exchange.profile_json import profile_from_document
from app.exchange.reports_csv import read_reports
from tests.exchange.refusals import Told, refused
from tests.worked_profiles import five_categories

NOW = datetime(2026, 3, 1, 12, tzinfo=UTC)
HEADER = "device,read_at,state_read,preset,alarm,reading"
GOOD = "boat-3,2026-03-01T08:00:00Z,power-on,child,heart-rate-low,60"
DUNLIN: dict[str, Any] = {
    "dunlin": {"presets": {"CHILD": {"carries": "child"}, "ADULT": {"carries": "adult"}}},
    "petrel": {},
}


def profile(**more: Any) -> Profile:
    options = {"longest-pause-s": {"value": 120}}
    return profile_from_document({**five_categories(), "options": options, **more})


def rows(text: str | bytes, policy: Profile | None = None) -> list[ReadingRow]:
    raw = text if isinstance(text, bytes) else text.encode()
    return read_reports(io.BytesIO(raw), policy or profile(), NOW)


def one(more: str = "", cells: str = "", *, line: str = GOOD) -> ReadingRow:
    (row,) = rows(f"{HEADER}{more}\n{line}{cells}\n")
    return row


def told(*lines: str, policy: Profile | None = None) -> list[Told]:
    return refused(lambda: rows("\n".join(lines), policy))


# --- good


def test_a_row_is_read() -> None:
    at = datetime(2026, 3, 1, 8, tzinfo=UTC)

    assert one() == ReadingRow(
        2, "boat-3", at, StateRead.POWER_ON, "child", "heart-rate-low", FoundOn(Decimal(60))
    )


@pytest.mark.parametrize(
    ("alarm", "reading", "found"),
    [
        ("heart-rate-low", "60", FoundOn(Decimal(60))),
        ("heart-rate-low", " 60 ", FoundOn(Decimal(60))),
        ("heart-rate-low", "60.5", FoundOn(Decimal("60.5"))),
        ("heart-rate-low", "off", FoundOff()),
        ("heart-rate-low", "not-fitted", FoundNotFitted()),
        ("heart-rate-low", "could-not-read: glare", CouldNotRead("glare")),
        ("heart-rate-low.deep", "40", FoundOn(Decimal(40))),
        ("asystole", "on", FoundOn()),
        ("asystole", "off", FoundOff()),
    ],
)
def test_a_reading_is_one_of_its_kinds(alarm: str, reading: str, found: Reading) -> None:
    line = f"boat-3,2026-03-01T08:00:00Z,power-on,child,{alarm},{reading}"

    assert one(line=line).reading == found


@pytest.mark.parametrize(
    ("reading", "found"),
    [
        ("120", FoundOn(Decimal(120))),
        ("on", FoundText("on")),
        ("adult", FoundText("adult")),
        ("could-not-read: locked", CouldNotRead("locked")),
    ],
)
def test_an_option_stands_under_the_preset_star(reading: str, found: Reading) -> None:
    line = f"boat-3,2026-03-01T08:00:00Z,power-on,*,longest-pause-s,{reading}"

    assert one(line=line).reading == found


@pytest.mark.parametrize(
    ("column", "cell", "found"),
    [
        ("priority", "low", FoundOn(Decimal(60), priority=Priority.LOW)),
        ("delay_s", "5", FoundOn(Decimal(60), delay_s=Decimal(5))),
        ("latching", "true", FoundOn(Decimal(60), latching=True)),
        ("latching", "false", FoundOn(Decimal(60), latching=False)),
        ("unit", "/min", FoundOn(Decimal(60), "/min")),
        ("reader", "Femi", FoundOn(Decimal(60))),
        *(
            (column, "", FoundOn(Decimal(60)))
            for column in ("unit", "priority", "delay_s", "latching", "model", "device_clock")
        ),
    ],
)
def test_an_optional_cell_that_is_empty_is_not_compared(
    column: str, cell: str, found: Reading
) -> None:
    assert one(f",{column}", f",{cell}").reading == found


@pytest.mark.parametrize(
    "written",
    [
        "2026-03-01T08:00:00Z",
        "2026-03-01T09:00:00+01:00",
        "2026-02-28T22:00:00-10:00",
        "2026-03-01 08:00:00+00:00",
        "2026-03-01T12:00:00+04:00",
    ],
)
def test_an_instant_is_the_same_in_every_zone(written: str) -> None:
    line = GOOD.replace("2026-03-01T08:00:00Z", written)

    assert one(line=line).read_at == datetime(2026, 3, 1, 8, tzinfo=UTC)


def test_this_very_moment_is_no_future() -> None:
    assert one(line=GOOD.replace("08:00:00", "12:00:00")).read_at == NOW


@pytest.mark.parametrize(
    "text",
    [
        f"\ufeff{HEADER}\n{GOOD}\n",
        f"{HEADER}\r\n{GOOD}\r\n",
        f"{HEADER}\n{GOOD}",
        f"{HEADER}\n\n{GOOD}\n\n",
        f'"device"{HEADER.removeprefix("device")}\n"boat-3"{GOOD.removeprefix("boat-3")}\n',
    ],
    ids=["byte-order mark", "carriage returns", "no last line end", "empty lines", "quotes"],
)
def test_what_other_programs_write_is_read(text: str) -> None:
    assert [row.device for row in rows(text)] == ["boat-3"]


def test_the_line_of_a_row_is_where_it_ends_in_the_file() -> None:
    text = f'{HEADER},reader\n{GOOD},"Femi\nof the fleet"\n{GOOD.replace("boat-3", "boat-4")},\n'

    assert [row.line for row in rows(text)] == [3, 4]


def test_a_header_alone_is_an_empty_report() -> None:
    assert rows(HEADER + "\n") == []


# --- presets and models


def test_a_model_brings_its_own_presets() -> None:
    line = "boat-3,2026-03-01T08:00:00Z,power-on,CHILD,heart-rate-low,60,dunlin"

    (row,) = rows(f"{HEADER},model\n{line}\n", profile(models=DUNLIN))

    assert (row.preset, row.model) == ("CHILD", "dunlin")


@pytest.mark.parametrize(
    ("lines", "wrong"),
    [
        (
            ["boat-3,2026-03-01T08:00:00Z,power-on,child,heart-rate-low,60,dunlin"],
            (2, "preset", "child", "must be one of CHILD, ADULT"),
        ),
        (
            ["boat-3,2026-03-01T08:00:00Z,power-on,CHILD,heart-rate-low,60,gull"],
            (2, "model", "gull", "is no model of this profile"),
        ),
        (
            [
                "boat-3,2026-03-01T08:00:00Z,power-on,CHILD,heart-rate-low,60,dunlin",
                "boat-3,2026-03-01T08:00:00Z,power-on,child,spo2-low,90,petrel",
            ],
            (3, "model", "petrel", "this device was a dunlin further up"),
        ),
        (
            [
                "boat-3,2026-03-01T08:00:00Z,power-on,child,heart-rate-low,60,",
                "boat-3,2026-03-01T08:00:00Z,power-on,CHILD,spo2-low,90,dunlin",
            ],
            (3, "model", "dunlin", "this device was named without its model further up"),
        ),
    ],
)
def test_a_device_has_one_model_and_its_presets(lines: list[str], wrong: Told) -> None:
    assert told(f"{HEADER},model", *lines, policy=profile(models=DUNLIN)) == [wrong]


def test_a_model_that_was_named_once_holds_for_the_device() -> None:
    first = "boat-3,2026-03-01T08:00:00Z,power-on,CHILD,heart-rate-low,60,dunlin"
    second = "boat-3,2026-03-01T08:00:00Z,power-on,ADULT,heart-rate-low,60,"

    found = rows(f"{HEADER},model\n{first}\n{second}\n", profile(models=DUNLIN))

    assert [row.model for row in found] == ["dunlin", "dunlin"]


# --- bad cells

NO_CONDITION = "is no alarm condition"
ONE_OF_STATES = "must be one of power-on, after-category, in-use, stored-preset"
ONE_OF_PRESETS = "must be one of neonate, infant, young-child, child, adult"
KINDS = "must be a number, on, off, not-fitted or could-not-read: why"
A_TIME = "must be a time such as 2026-03-01T08:00:00Z"


@pytest.mark.parametrize(
    ("column", "cell", "reason"),
    [
        ("device", "", "is empty"),
        ("device", "  ", "is empty"),
        ("read_at", "", A_TIME),
        ("read_at", "yesterday", A_TIME),
        ("read_at", "2026-02-30T08:00:00Z", A_TIME),
        ("read_at", "2026-03-01T08:00:00", "has no zone: add Z or an offset such as +01:00"),
        ("read_at", "2026-03-01", "has no zone: add Z or an offset such as +01:00"),
        ("read_at", "2026-03-01T12:00:01Z", "lies in the future"),
        ("read_at", "2026-03-01T13:00:01+01:00", "lies in the future"),
        ("read_at", "0001-01-01T00:00:00+14:00", "is no time that a device can show"),
        ("state_read", "", ONE_OF_STATES),
        ("state_read", "Power-on", ONE_OF_STATES),
        ("preset", "", "is empty"),
        ("preset", "toddler", ONE_OF_PRESETS),
        ("preset", "*", "is no option of this profile"),
        ("alarm", "", "is empty"),
        ("alarm", "heart-rate", NO_CONDITION),
        ("alarm", "asystole.deep", NO_CONDITION),
        ("alarm", "heart-rate-low.deep.deep", NO_CONDITION),
        ("alarm", "longest-pause-s", NO_CONDITION),
        ("reading", "", "is empty"),
        ("reading", "sixty", KINDS),
        ("reading", "6e1", KINDS),
        ("reading", "NaN", KINDS),
        ("reading", "inf", KINDS),
        ("reading", "1_000", KINDS),
        ("reading", "٦٠", KINDS),
        ("reading", "OFF", KINDS),
        ("reading", "1234567890", KINDS),
        ("reading", "on", "this alarm has a limit: write the number"),
        ("reading", "could-not-read", "say why: could-not-read: why"),
        ("reading", "could-not-read:  ", "say why: could-not-read: why"),
    ],
)
def test_a_wrong_cell_is_told_by_line_and_column(column: str, cell: str, reason: str) -> None:
    names = HEADER.split(",")
    cells = GOOD.split(",")
    cells[names.index(column)] = cell
    where = "alarm" if (column, cell) == ("preset", "*") else column
    value = cells[names.index(where)].strip()

    assert told(HEADER, GOOD.replace("boat-3", "boat-1"), ",".join(cells)) == [
        (3, where, value, reason)
    ]


@pytest.mark.parametrize(
    ("column", "cell", "reason"),
    [
        ("unit", "kPa", "must be /min"),
        ("unit", "bpm", "must be /min"),
        ("priority", "urgent", "must be one of high, medium, low"),
        ("delay_s", "-1", "must be a number of seconds"),
        ("delay_s", "5 s", "must be a number of seconds"),
        ("latching", "yes", "must be true or false"),
        ("latching", "1", "must be true or false"),
    ],
)
def test_a_wrong_optional_cell_is_told_by_line_and_column(
    column: str, cell: str, reason: str
) -> None:
    assert told(f"{HEADER},{column}", f"{GOOD},{cell}") == [(2, column, cell, reason)]


@pytest.mark.parametrize(
    ("reading", "column", "reason"),
    [
        ("90", "reading", "this alarm has no limit: write on or off"),
        ("on", "unit", "must be left empty"),
    ],
)
def test_an_event_has_neither_limit_nor_unit(reading: str, column: str, reason: str) -> None:
    line = f"boat-3,2026-03-01T08:00:00Z,power-on,child,asystole,{reading}"
    cells = {"reading": "", "unit": "/min"}[column]

    ((line_, where, _, why),) = told(f"{HEADER},unit", f"{line},{cells}")

    assert (line_, where, why) == (2, column, reason)


@pytest.mark.parametrize(
    "again",
    [GOOD, GOOD.replace(",60", ",61"), GOOD.replace("08:00:00Z", "09:00:00+01:00")],
    ids=["the same", "another value", "another zone"],
)
def test_a_reading_stands_once(again: str) -> None:
    assert told(HEADER, GOOD, again) == [
        (3, "alarm", "heart-rate-low", "the same reading already stands in line 2")
    ]


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("boat-3", "boat-4"),
        ("08:00:00", "08:00:01"),
        ("power-on", "after-category"),
        ("child", "adult"),
        ("heart-rate-low", "heart-rate-low.deep"),
    ],
)
def test_another_device_time_state_preset_or_alarm_is_another_reading(old: str, new: str) -> None:
    assert len(rows(f"{HEADER}\n{GOOD}\n{GOOD.replace(old, new)}\n")) == 2


# --- bad files


@pytest.mark.parametrize(
    ("raw", "wrong"),
    [
        (b"", (1, "file", None, "the file is empty")),
        (b"\xff\xfe", (1, "file", None, "this is not UTF-8 text")),
        (
            f"{HEADER}\n{GOOD}\n{GOOD}\xe9\n".encode("latin-1"),
            (3, "file", None, "this is not UTF-8 text"),
        ),
        (f"{HEADER}\n{GOOD},x\n".encode(), (2, "row", None, "has 7 cells where the header has 6")),
        (f"{HEADER}\nboat-3\n".encode(), (2, "row", None, "has 1 cells where the header has 6")),
        (
            f"{HEADER}\n{GOOD.replace('boat-3', 'b' * 2001)}\n".encode(),
            (2, "row", None, "a cell is longer than 2000 characters"),
        ),
        (
            f"{HEADER},reader,reader\n".encode(),
            (1, "reader", "reader", "this column stands twice"),
        ),
        (f"{HEADER},patient\n".encode(), (1, "patient", "patient", "unknown column")),
        (f"{HEADER},\n".encode(), (1, "column 7", "", "unknown column")),
        (
            HEADER.replace("alarm,", "").encode(),
            (1, "alarm", None, "this column is missing"),
        ),
        (
            f'{HEADER}\n"boat-3,2026'.encode(),
            (2, "file", None, "this is no CSV: unexpected end of data"),
        ),
    ],
)
def test_a_file_that_is_no_report_is_told_by_place(raw: bytes, wrong: Told) -> None:
    assert refused(lambda: rows(raw)) == [wrong]


def test_the_line_that_is_not_utf8_is_told_exactly_in_a_long_file() -> None:
    lines = [HEADER, *(GOOD.replace("boat-3", f"boat-{n}") for n in range(3000))]
    raw = "\n".join(lines).encode().replace(b"boat-2500,", b"boat-\xe9,")

    assert refused(lambda: rows(raw)) == [(2502, "file", None, "this is not UTF-8 text")]


def test_every_wrong_row_is_told_rows_of_the_wrong_width_too() -> None:
    wide, late = GOOD + ",x", GOOD.replace("2026", "2027")

    found = told(HEADER, late, wide, GOOD, late.replace("boat-3", "boat-4"))

    assert [(line, column) for line, column, *_ in found] == [
        (2, "read_at"),
        (3, "row"),
        (5, "read_at"),
    ]


def test_beyond_a_hundred_wrong_rows_only_their_number_is_told() -> None:
    late = GOOD.replace("2026", "2027")

    found = told(HEADER, *[late] * (MOST_FAULTS + 7))

    assert len(found) == MOST_FAULTS + 1
    assert found[-1][3] == "and 7 more rows are wrong"
