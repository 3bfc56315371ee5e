"""What somebody fills in wrongly is told by sheet and cell; what may not be opened is not."""

import io
import json
import zipfile
from collections.abc import Callable
from datetime import date
from typing import Any

import pytest

from app.domain.errors import Refused
from app.exchange.profile_files import read_profile_file
from app.exchange.profile_xlsx import write_workbook
from app.exchange.profile_xlsx_read import read_workbook
from app.exchange.workbook_bounds import LONGEST_TEXT, MOST_BYTES, MOST_COLUMNS, MOST_ROWS
from tests.workbooks import Content, edited, with_cells
from tests.worked_profiles import one_wide_band


def filled(cells: dict[str, Content], document: dict[str, Any] | None = None) -> bytes:
    return with_cells(write_workbook(document or one_wide_band()), cells)


def told(raw: bytes) -> list[str]:
    with pytest.raises(Refused) as error:
        read_workbook(raw)
    return [str(fault) for fault in error.value.faults]


# Row 2 of Settings is heart-rate-low of the only category: on, 50.


@pytest.mark.parametrize(
    ("cell", "value", "reason"),
    [
        ("Settings!D2", "37,5", "must be a number with a point, not a comma (here: 37,5)"),
        ("Settings!D2", "9o", "must be a number (here: 9o)"),
        ("Settings!D2", None, "is missing"),
        ("Settings!D2", date(2026, 5, 12), "is a date or a time: write it as text"),
        ("Settings!D2", "=40+10", "holds a formula: write the value itself"),
        ("Settings!C2", None, "needs a state: on, off, not-fitted or no-policy"),
        ("Settings!C2", "perhaps", "must be on, off, not-fitted or no-policy (here: perhaps)"),
        ("Settings!F2", "urgent", "should be 'high', 'medium' or 'low' (here: urgent)"),
        ("Settings!G2", 601, "should be less than or equal to 600 (here: 601)"),
        ("Settings!H2", "maybe", "must be true or false (here: maybe)"),
        ("Settings!E2", "kPa", "must be one of /min (here: kPa)"),
        ("Settings!L2", -1, "should be greater than or equal to 0 (here: -1)"),
        ("Settings!A2", "grown-up", "is no category of this profile (here: grown-up)"),
        ("Settings!A2", None, "is missing"),
        ("Settings!B2", "heart-rate", "is no alarm condition (here: heart-rate)"),
        ("Settings!P1", "colour", "unknown column"),
        ("Settings!S2", "stray", "stands in a column without a name (here: stray)"),
        ("Settings!P2", "x" * 4001, "must have at most 4000 characters"),
        ("Categories!C2", "one year", "'one year' is no age"),
        ("Categories!C2", 1, "'1' is no age"),
        ("Categories!D2", "6 mo", "must be older than from (here: 6 mo)"),
        ("Categories!A2", "Small child", "must be small letters and digits, joined by hyphens"),
        ("Circumstances!C2", "adult", "is no category of this profile (here: adult)"),
        ("Circumstance settings!A2", "elsewhere", "is not on the sheet Circumstances"),
        ("Circumstance settings!D2", "low", "must be a number (here: low)"),
        ("Options!B2", None, "is missing"),
        ("Presets!A2", "petrel", "is not on the sheet Models (here: petrel)"),
        ("Presets!C2", "adult", "is no category of this profile (here: adult)"),
        ("Grids!E2", 0, "should be greater than or equal to 0.0001 (here: 0)"),
        ("Grids!B2", "colour", "is no alarm condition (here: colour)"),
        ("Categories!B2", '"Ch\\u0000ild"', "holds a character that cannot be seen, U+0000 at 3"),
        ("Categories!B2", "Ch\u200bild", "holds a character that cannot be seen, U+200B at 3"),
        ("Presets!B2", "\u202eDLIHC", "holds a character that cannot be seen, U+202E at 1"),
        ("Settings!P2", "\u202eabc", "holds a character that cannot be seen, U+202E at 1"),
        ("Categories!B2", "x" * 121, "must have at most 120 characters"),
        ("About!B11", "three", "must be a whole number (here: three)"),
        ("About!B8", "other/1", "should be 'marchstone-profile/1' (here: other/1)"),
        ("Notes!A1", "mine", "this is no sheet of a profile: remove it"),
    ],
)
def test_a_fault_names_its_cell(cell: str, value: Content, reason: str) -> None:
    faults = told(filled({cell: value}, full_document()))

    assert [fault for fault in faults if fault.startswith(f"{cell}: {reason}")], faults


def full_document() -> dict[str, Any]:
    document = one_wide_band()
    low = document["settings"]["child"]["spo2-low"]
    return document | {
        "circumstances": [
            {"key": "on-oxygen", "applies_to": ["child"], "settings": {"spo2-low": low}}
        ],
        "options": {"longest-pause-s": {"value": 120}},
        "models": {
            "dunlin": {
                "presets": {"CHILD": {"carries": "child"}},
                "grid": {"heart-rate-low": {"from": 30, "to": 200, "step": 5}},
            }
        },
    }


def test_an_alarm_that_stands_twice_is_told_at_the_second() -> None:
    faults = told(filled({"Settings!B2": "heart-rate-high"}))

    assert faults == ["Settings!B3: stands twice: also in row 2 (here: heart-rate-high)"]


def test_a_row_that_is_off_holds_no_limit() -> None:
    assert "Settings!D2: must stay empty in this row (here: 50)" in told(
        filled({"Settings!C2": "off"})
    )


def test_every_fault_is_told_at_once() -> None:
    faults = told(filled({"Settings!D2": "37,5", "Settings!D3": "9o", "Settings!F3": "urgent"}))

    assert [fault.partition(":")[0] for fault in faults] == [
        "Settings!D2",
        "Settings!D3",
        "Settings!F3",
    ]


def test_a_formula_keeps_no_other_fault_back_and_is_told_once() -> None:
    faults = told(filled({"Settings!D2": "=40+10", "Settings!D3": "9o"}))

    assert faults == [
        "Settings!D2: holds a formula: write the value itself",
        "Settings!D3: must be a number (here: 9o)",
    ]


def test_a_fault_carries_the_value_for_programs() -> None:
    with pytest.raises(Refused) as error:
        read_workbook(filled({"Settings!D2": "9o"}))

    (fault,) = error.value.faults
    assert (fault.column, fault.value) == ("Settings!D2", "9o")


@pytest.mark.parametrize(
    ("cell", "typed", "key", "meant"),
    [
        pytest.param("Settings!D2", "51.5", "limit", 51.5, id="a number as text"),
        ("Settings!D2", 51.5, "limit", 51.5),
        ("Settings!H2", True, "latching", True),
        ("Settings!H2", "No", "latching", False),
        ("Settings!Q2", 2015, "source", "2015"),
    ],
)
def test_what_people_type_is_read_as_it_is_meant(
    cell: str, typed: Content, key: str, meant: object
) -> None:
    read = read_workbook(filled({cell: typed})).profile.document

    assert read["settings"]["child"]["heart-rate-low"][key] == meant  # type: ignore[index]


def test_columns_may_stand_in_another_order() -> None:
    def edit(book: Any) -> None:
        page = book["Categories"]
        for row in page.iter_rows():
            row[1].value, row[2].value = row[2].value, row[1].value

    assert (
        read_workbook(edited(write_workbook(one_wide_band()), edit)).profile.document
        == one_wide_band()
    )


@pytest.mark.parametrize("sheet", ["Settings", "Categories", "About"])
def test_a_sheet_that_is_needed_must_be_there(sheet: str) -> None:
    def edit(book: Any) -> None:
        del book[sheet]

    assert f"the sheet {sheet} is missing" in told(edited(write_workbook(one_wide_band()), edit))


# What is not opened at all


def with_part(name: str, change: Callable[[bytes], bytes]) -> bytes:
    written = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(write_workbook(one_wide_band()))) as old,
        zipfile.ZipFile(written, "w", zipfile.ZIP_DEFLATED) as new,
    ):
        for part in old.namelist():
            content = old.read(part)
            new.writestr(part, change(content) if part == name else content)
    return written.getvalue()


SHEET = "xl/worksheets/sheet3.xml"


def far(place: str) -> bytes:
    cell = f'<row r="{place.lstrip("ABXFDI")}"><c r="{place}"><v>1</v></c></row></sheetData>'
    return with_part(SHEET, lambda xml: xml.replace(b"</sheetData>", cell.encode()))


@pytest.mark.parametrize(
    ("made", "reason"),
    [
        pytest.param(lambda: b"PK\x03\x04 and no more", "it cannot be unpacked", id="no archive"),
        pytest.param(
            lambda: b"PK\x03\x04" + bytes(MOST_BYTES - 3),
            "larger than 20 MiB",
            id="one byte too long",
        ),
        pytest.param(
            lambda: with_part(SHEET, lambda _: b"<a>" + b" " * 80_000_000 + b"</a>"),
            "unpacks to 76 MiB",
            id="a bomb",
        ),
        pytest.param(
            lambda: with_part(SHEET, lambda _: b"<a>" + b" " * 16_000_000 + b"</a>"),
            "unpacks to 15 MiB",
            id="a small bomb",
        ),
        pytest.param(
            lambda: with_part(
                SHEET, lambda xml: b'<!DOCTYPE x SYSTEM "file:///etc/passwd">' + xml[55:]
            ),
            "document type",
            id="a document type",
        ),
        pytest.param(
            lambda: far("XFD1048576"), "goes on to XFD1048576", id="the last cell there is"
        ),
        pytest.param(
            lambda: far(f"A{MOST_ROWS + 1}"), f"at most {MOST_ROWS} rows", id="a row too many"
        ),
        pytest.param(lambda: far("BI2"), f"{MOST_COLUMNS} columns", id="a column too many"),
        pytest.param(
            lambda: with_part("xl/workbook.xml", lambda _: b"<workbook/>"),
            "no sheets",
            id="no sheets",
        ),
        pytest.param(lambda: with_part(SHEET, lambda xml: xml[:-20]), "is damaged", id="damaged"),
        pytest.param(
            lambda: with_part(
                "xl/sharedStrings.xml",
                lambda xml: xml.replace(b"agency practice", b"x" * (LONGEST_TEXT + 1)),
            ),
            "a text is longer than",
            id="a text too long",
        ),
    ],
)
def test_what_may_not_be_opened_is_refused_in_words(made: Callable[[], bytes], reason: str) -> None:
    (fault,) = told(made())

    assert reason in fault


def test_the_last_row_that_is_read_is_read() -> None:
    assert told(far(f"A{MOST_ROWS}")) == [f"Settings!B{MOST_ROWS}: is missing"]


def test_a_file_is_read_by_its_content() -> None:
    document = one_wide_band()

    for raw in (write_workbook(document), json.dumps(document).encode()):
        assert read_profile_file(raw).profile.document == document
