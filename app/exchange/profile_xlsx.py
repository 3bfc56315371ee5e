"""A profile as a workbook (XLSX) to fill in. Every cell is a text, a number or a yes/no.

No cell is ever a formula or a link, whatever it holds: `=1+1` stays the text that somebody wrote.
"""

import io
from collections.abc import Iterable, Mapping
from typing import Any

import xlsxwriter  # type: ignore[import-untyped]
from xlsxwriter.format import Format  # type: ignore[import-untyped]
from xlsxwriter.worksheet import Worksheet  # type: ignore[import-untyped]

from app.exchange import profile_xlsx_columns as sheets
from app.exchange.profile_xlsx_cells import EMPTY, NONE, Cell, to_cell
from app.exchange.profile_xlsx_columns import Column, Sheet
from app.exchange.profile_xlsx_tables import Row, tables_of

MEDIA = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
CAUTION = (
    "An agency’s own alarm-limit policy, and no advice for a patient. "
    "Local protocol and licensed judgement rule."
)
_SAFE = {
    "in_memory": True,
    "strings_to_formulas": False,
    "strings_to_urls": False,
    "strings_to_numbers": False,
}
_SPARE_ROWS = 200
"""Lists of choices reach this far below the last row, for rows that are added."""
_HOW = (
    "An empty cell leaves something out; a row of Settings without a state is a blank.",
    "Write numbers with a point (37.5), ages as a number and d, mo or y (28 d, 4.5 mo, 16 y).",
    f"{NONE} says expressly that there is none, {EMPTY} that a list holds nothing.",
    "Formulas are refused: write values.",
)


class _Exact(float):
    """The writer shortens numbers to 16 digits; some need 17 to come back the same."""

    def __format__(self, _: str) -> str:
        return repr(float(self))


def write_workbook(document: Mapping[str, Any], *, edit_version: int | None = None) -> bytes:
    """`edit_version` is that of the draft it comes from, so that an upload finds its place."""
    written = io.BytesIO()
    tables = tables_of(document)
    with xlsxwriter.Workbook(written, _SAFE) as book:
        _about(book, document, edit_version)
        looks = _Looks(book)
        for sheet in sheets.SHEETS:
            _sheet(book.add_worksheet(sheet.name), sheet, tables[sheet.name], looks)
    return written.getvalue()


class _Looks:
    def __init__(self, book: xlsxwriter.Workbook) -> None:
        self.head = book.add_format({"bold": True, "bottom": 1, "bg_color": "#E4E4E4"})
        self.text = book.add_format({"num_format": "@", "valign": "top"})
        self.words = book.add_format({"num_format": "@", "valign": "top", "text_wrap": True})
        self.number = book.add_format({"valign": "top"})
        self.blank = book.add_format({"bg_color": "#FFF2CC", "border": 1})

    def of(self, column: Column) -> Format:
        if column.kind in ("number", "any"):
            return self.number
        return self.words if column.width > 40 else self.text


def _about(book: xlsxwriter.Workbook, document: Mapping[str, Any], version: int | None) -> None:
    page = book.add_worksheet(sheets.ABOUT)
    title = book.add_format({"bold": True, "font_size": 14})
    page.set_column(0, 0, 16)
    page.set_column(1, 1, 60)
    page.write_string(0, 0, "Alarm-limit policy", title)
    page.write_string(1, 0, CAUTION, book.add_format({"bold": True}))
    for number, line in enumerate(_HOW, start=2):
        page.write_string(number, 0, line)
    told = [(key, document[key]) for key in sheets.ABOUT_KEYS]
    told += [(sheets.EDIT_VERSION, version)] if version is not None else []
    for number, (key, value) in enumerate(told, start=len(_HOW) + 3):
        page.write_string(number, 0, key)
        _write(page, number, 1, to_cell(value, "any"), book.add_format({"align": "left"}))


def _sheet(page: Worksheet, sheet: Sheet, rows: Iterable[Row], looks: _Looks) -> None:
    for at, column in enumerate(sheet.all):
        page.set_column(at, at, column.width, looks.of(column))
        page.write_string(0, at, column.name, looks.head)
        if column.hint:
            page.write_comment(0, at, column.hint)
    page.freeze_panes(1, len(sheet.names))
    last = 0
    for last, row in enumerate(rows, start=1):
        for at, (column, value) in enumerate(zip(sheet.all, row, strict=True)):
            _write(page, last, at, to_cell(value, column.kind), looks.of(column))
    page.autofilter(0, 0, last, len(sheet.all) - 1)
    _choices(page, sheet, last + _SPARE_ROWS)
    if sheet is sheets.SETTINGS and last:
        at = len(sheet.names)
        page.conditional_format(1, at, last, at, {"type": "blanks", "format": looks.blank})


def _choices(page: Worksheet, sheet: Sheet, last: int) -> None:
    for at, column in enumerate(sheet.all):
        if column.choices:
            offered = {
                "validate": "list",
                "source": list(column.choices),
                "error_type": "warning",
                "error_message": f"Usually one of: {', '.join(column.choices)}",
            }
            page.data_validation(1, at, last, at, offered)


def _write(page: Worksheet, row: int, at: int, cell: Cell, look: Format) -> None:
    if cell is None:
        page.write_blank(row, at, None, look)
    elif isinstance(cell, bool):
        page.write_boolean(row, at, cell, look)
    elif isinstance(cell, str):
        page.write_string(row, at, cell, look)
    else:
        page.write_number(row, at, _Exact(cell), look)
