"""Files of readings as rows, whatever they are: text, a workbook, or another system's."""

import io
from collections.abc import Sequence
from datetime import UTC, datetime
from decimal import Decimal
from typing import Any

import pytest
import xlsxwriter  # type: ignore[import-untyped]

from app.domain.column_maps import ColumnMap, TimeFormat
from app.domain.device_reports import FoundOff, FoundOn, StateRead
from app.domain.errors import Refused
from app.exchange import report_runs
from app.exchange.known_fleets import KnownFleet
from app.exchange.report_files import ReportFile, read_report_file
from app.exchange.report_sources import OtherColumns, can_be_mapped
from tests.reading_files import AT, GOOD, HEADER, a_file

NOW = datetime(2026, 4, 1, tzinfo=UTC)
MODELS = {"boat-3": "dunlin", "boat-4": "dunlin"}
FOREIGN = ("Unit", "Taken", "Mode", "Profile", "Item", "Value")
BY = ColumnMap(
    source="Bench log",
    header=FOREIGN,
    columns={
        "device": "Unit",
        "read_at": "Taken",
        "state_read": "Mode",
        "preset": "Profile",
        "alarm": "Item",
        "reading": "Value",
    },
    words={
        "state_read": {"cold start": "power-on"},
        "alarm": {"hr hi": "heart-rate-high", "hr lo": "heart-rate-low"},
        "reading": {"---": "off"},
    },
    times=TimeFormat.DAY_FIRST,
    zone="Europe/London",
)
FOREIGN_ROW = "boat-3,02/03/2026 09:00,Cold start,CHILD,HR hi,170"


def read(content: bytes, *maps: ColumnMap) -> ReportFile:
    known = KnownFleet(MODELS, [], maps=maps)
    return read_report_file(io.BytesIO(content), known, now=NOW)


def told(content: bytes, *maps: ColumnMap) -> list[str]:
    return [str(fault) for fault in read(content, *maps).faults]


def a_workbook(*rows: Sequence[Any], above: int = 0, left: int = 0) -> bytes:
    raw = io.BytesIO()
    with xlsxwriter.Workbook(raw, {"in_memory": True}) as book:
        sheet = book.add_worksheet("Round")
        for number, row in enumerate(rows):
            for column, cell in enumerate(row):
                sheet.write(above + number, left + column, cell)
    return raw.getvalue()


def foreign(*rows: str, header: tuple[str, ...] = FOREIGN) -> bytes:
    return "\n".join([",".join(header), *rows, ""]).encode()


class TestText:
    def test_rows_of_a_report_may_stand_anywhere(self) -> None:
        low = GOOD.replace("heart-rate-high,170", "heart-rate-low,75")
        other = GOOD.replace("boat-3", "boat-4")

        file = read(a_file(GOOD, other, low))

        assert [(one.device, sorted(one.found.readings)) for one in file.reports] == [
            ("boat-3", ["heart-rate-high", "heart-rate-low"]),
            ("boat-4", ["heart-rate-high"]),
        ]
        assert (file.readings, file.refused) == (3, 0)

    def test_reports_that_found_the_same_share_it(self) -> None:
        first, second = read(a_file(GOOD, GOOD.replace("boat-3", "boat-4"))).reports

        assert first.found is second.found
        assert first.key != second.key

    def test_the_line_is_told_behind_a_cell_of_several_lines(self) -> None:
        dark = GOOD.replace("170", '"could-not-read: dark\nand wet"')

        (fault,) = told(a_file(dark, GOOD.replace("boat-3", "boat-4").replace("170", "a lot")))

        assert fault.startswith("line 4, reading")

    def test_each_of_several_faults_of_one_report_is_told(self) -> None:
        bad = GOOD.replace("170", "a lot")

        assert told(a_file(bad, GOOD, bad)) == [
            f"line {line}, reading: must be a number, on, off, not-fitted or could-not-read: why"
            for line in (2, 4)
        ]


class TestWorkbooks:
    def test_it_is_read_as_the_same_text_is(self) -> None:
        header, row = HEADER.split(","), GOOD.split(",")
        row[-1] = 170  # type: ignore[call-overload]

        (one,), (same,) = read(a_workbook(header, row)).reports, read(a_file(GOOD)).reports

        assert (one.key, one.found.readings) == (same.key, same.found.readings)

    @pytest.mark.parametrize(
        ("column", "value", "why"),
        [
            (0, "boat-9", "Round!A2: there is no such device"),
            (5, "a lot", "Round!F2: must be a number"),
            (1, "2026-03-02 09:00", "Round!B2: has no zone"),
            (5, "", "Round!F2: is empty"),
        ],
    )
    def test_what_is_wrong_is_told_by_its_cell(self, column: int, value: str, why: str) -> None:
        row = GOOD.split(",")
        row[column] = value

        assert told(a_workbook(HEADER.split(","), row))[0].startswith(why)

    def test_the_table_may_stand_elsewhere_on_the_sheet(self) -> None:
        bad = GOOD.replace("170", "a lot").split(",")

        (fault,) = told(
            a_workbook(
                HEADER.split(","), GOOD.replace("boat-3", "boat-4").split(","), bad, above=2, left=1
            )
        )

        assert fault.startswith("Round!G5")

    def test_a_formula_is_refused_by_its_cell(self) -> None:
        row = GOOD.split(",")
        row[-1] = "=1+1"

        with pytest.raises(Refused, match="Round!F2: holds a formula"):
            read(a_workbook(HEADER.split(","), row))

    @pytest.mark.parametrize("content", [b"PK\x03\x04", b"PK\x03\x04" + b"\x00" * 200])
    def test_what_only_begins_like_one_is_refused(self, content: bytes) -> None:
        with pytest.raises(Refused, match="no spreadsheet"):
            read(content)

    def test_an_empty_one_is_refused(self) -> None:
        with pytest.raises(Refused, match="empty"):
            read(a_workbook())


class TestOtherSystems:
    def test_columns_and_words_are_ours_after_mapping(self) -> None:
        (report,) = read(
            foreign(FOREIGN_ROW, "boat-3,02/03/2026 09:00,COLD START,CHILD,HR lo,---"), BY
        ).reports

        assert (report.device, report.state_read) == ("boat-3", StateRead.POWER_ON)
        assert report.read_at == datetime.fromisoformat(AT)
        assert report.found.readings == {
            "heart-rate-high": FoundOn(Decimal(170)),
            "heart-rate-low": FoundOff(),
        }

    def test_what_is_wrong_is_told_by_its_own_column(self) -> None:
        assert told(foreign(FOREIGN_ROW.replace("HR hi", "HR mid")), BY) == [
            "line 2, Item: is no alarm condition"
        ]

    def test_the_map_is_found_by_the_header_whatever_its_capitals(self) -> None:
        shouting = tuple(name.upper() for name in FOREIGN)

        with pytest.raises(OtherColumns):
            read(foreign(FOREIGN_ROW, header=("Date", *FOREIGN[1:])), BY)
        assert len(read(foreign(FOREIGN_ROW, header=FOREIGN), BY).reports) == 1
        assert len(read(foreign(FOREIGN_ROW, header=shouting), BY).reports) == 1

    @pytest.mark.parametrize(
        ("time", "fits"),
        [
            ("29/03/2026 00:59", True),
            ("29/03/2026 01:30", False),  # skipped
            ("26/10/2025 01:30", False),  # had twice
            ("26/10/2025 02:00", True),
        ],
    )
    def test_an_hour_that_nobody_can_tell_is_refused(self, time: str, fits: bool) -> None:
        row = FOREIGN_ROW.replace("02/03/2026 09:00", time)

        assert (told(foreign(row), BY) == []) is fits

    def test_each_alarm_may_have_a_column_of_its_own(self) -> None:
        by = ColumnMap(
            source="Wide",
            header=("Unit", "Taken", "HR high", "HR low"),
            columns={"device": "Unit", "read_at": "Taken"},
            always={"state_read": "power-on", "preset": "CHILD"},
            alarms={"HR high": "heart-rate-high", "HR low": "heart-rate-low"},
        )

        file = read(
            foreign(
                f"boat-3,{AT},170,OFF", f"boat-4,{AT},,75", f"boat-4,{AT},x,", header=by.header
            ),
            by,
        )

        assert [(one.device, len(one.found.cells)) for one in file.reports] == [
            ("boat-3", 1),
            ("boat-4", 1),
        ]
        assert [str(fault).partition(":")[0] for fault in file.faults] == [
            "line 2, HR low",
            "line 4, HR high",
        ]


@pytest.mark.parametrize(
    ("header", "can"),
    [
        (FOREIGN, True),
        (tuple(GOOD.split(",")), False),
        ((*HEADER.split(","), "mood"), False),
        (("Unit", "Unit"), False),
        (("Unit", ""), False),
        (("Unit",), False),
    ],
)
def test_a_header_that_somebody_could_tell_the_meaning_of(
    header: tuple[str, ...], can: bool
) -> None:
    assert can_be_mapped(header) is can


class TestPlainText:
    """Text without quotes is read by a quicker way; a quote anywhere leads to the other one."""

    QUOTED = '"heart-rate-high"'

    @pytest.mark.parametrize(
        "rows",
        [
            [GOOD, GOOD.replace("high,170", "low,75"), GOOD.replace("boat-3", "boat-4")],
            [GOOD, "", "", GOOD.replace("170", "a lot")],
            [GOOD, f"{GOOD},x", "boat-3", GOOD.replace("boat-3", "boat-9")],
            [GOOD.replace("170", "9" * 2001), GOOD],
            [GOOD, GOOD],
            ["boat-é,ü,ß,ø,å,æ", GOOD],
        ],
    )
    @pytest.mark.parametrize("end", ["\n", "\r\n"])
    @pytest.mark.parametrize("more", ["", ",4.1"])
    def test_both_ways_find_the_same(self, rows: list[str], end: str, more: str) -> None:
        head = HEADER + (",software" if more else "")
        plain = end.join([head, *(f"{row}{more}" if row else "" for row in rows), ""])
        last = f"boat-4,{AT},power-on,CHILD,heart-rate-high,171{more}{end}"

        quick = read((plain + last).encode())
        slow = read((plain + last.replace("heart-rate-high", self.QUOTED)).encode())

        assert [(one.key, one.found.readings) for one in quick.reports] == [
            (one.key, one.found.readings) for one in slow.reports
        ]
        assert [str(fault) for fault in quick.faults] == [str(fault) for fault in slow.faults]
        assert quick.refused == slow.refused

    def test_blocks_end_anywhere(self, monkeypatch: pytest.MonkeyPatch) -> None:
        rows = [
            f"boat-3,2026-03-02T09:{n:02d}:00Z,power-on,CHILD,heart-rate-high,17{n % 3}"
            for n in range(50)
        ]
        whole = read(a_file(*rows, "boat-9"))
        for size in (1, 7, 64, 1000):
            monkeypatch.setattr(report_runs, "_BLOCK", size)

            pieces = read(a_file(*rows, "boat-9"))

            assert [one.key for one in pieces.reports] == [one.key for one in whole.reports]
            assert pieces.faults == whole.faults

    def test_what_is_no_text_is_refused_as_ever(self) -> None:
        with pytest.raises(Refused, match="line 3, file: this is not UTF-8 text"):
            read(a_file(GOOD) + b"\xff\n")

    def test_a_line_that_ends_in_its_middle_is_two_of_them(self) -> None:
        assert told(a_file(GOOD).replace(b"T09", b"\rT09")) == [
            "line 2, row: has 2 cells where the header has 6",
            "line 3, row: has 5 cells where the header has 6",
        ]

    @pytest.mark.parametrize(("rows", "taken"), [(500, True), (501, False)])
    def test_a_report_has_no_end_of_rows(self, rows: int, taken: bool) -> None:
        file = read(a_file(*[GOOD] * rows))

        assert bool(file.reports) is taken
        assert file.refused == (rows - 1 if taken else rows)
