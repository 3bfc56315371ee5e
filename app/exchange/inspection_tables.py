"""The tables of an inspection file; its readings are in the format that is taken in."""

import io
from collections.abc import Iterable, Iterator, Sequence
from decimal import Decimal

import xlsxwriter  # type: ignore[import-untyped]

from app.domain.device_reports import CouldNotRead, FoundOn, FoundText, NotRead, Reading
from app.domain.fleet import StoredReport
from app.domain.settings_of_alarms import show_number
from app.exchange.safe_csv import written_in_pieces

MOST_ROWS = 1_000_000
_MOST_CHARACTERS = 32_000
_MEASURED, _WIDEST = 200, 70
"""Rows that say how wide a column is, and its most, in characters."""
READINGS = (
    *("device", "read_at", "state_read", "preset", "alarm", "reading", "unit", "priority"),
    *("delay_s", "latching", "model", "reader", "software", "trigger", "minutes_off"),
    "device_clock",
)
Table = tuple[Sequence[str], Iterable[Sequence[object]]]


def readings_csv(reports: Iterable[StoredReport]) -> Iterator[bytes]:
    return written_in_pieces(READINGS, reading_rows(reports))


def reading_rows(reports: Iterable[StoredReport]) -> Iterator[list[object]]:
    """A row a reading; what was not read is no row."""
    for report in reports:
        for alarm, found in report.readings.items():
            if not isinstance(found, NotRead):
                yield [
                    *(report.device, report.read_at.isoformat(), report.state_read.value),
                    *(report.preset, alarm, _reading(found), *_besides(found), report.model),
                    *(report.reader_told or report.reader, report.software, report.trigger),
                    *(report.minutes_off, report.device_clock or None),
                ]


def _reading(found: Reading) -> str:
    if isinstance(found, CouldNotRead):
        return f"could-not-read: {found.why}"
    if isinstance(found, FoundText):
        return found.text
    if isinstance(found, FoundOn) and found.limit is not None:
        return show_number(found.limit)
    return found.state


def _besides(found: Reading) -> list[object]:
    if not isinstance(found, FoundOn):
        return [None] * 4
    priority = None if found.priority is None else found.priority.value
    delay = None if found.delay_s is None else show_number(found.delay_s)
    latching = None if found.latching is None else ("true" if found.latching else "false")
    return [found.unit, priority, delay, latching]


def workbook(tables: dict[str, Table]) -> bytes:
    """A sheet a table, and a further one where it is too long; a text is never a formula."""
    target = io.BytesIO()
    plain = {"strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False}
    with xlsxwriter.Workbook(target, {"in_memory": True, **plain}) as book:
        bold = book.add_format({"bold": True})
        for name, (header, rows) in tables.items():
            _fill(book, name, header, rows, bold)
    return target.getvalue()


def _fill(
    book: "xlsxwriter.Workbook",
    name: str,
    header: Sequence[str],
    rows: Iterable[Sequence[object]],
    bold: object,
) -> None:
    sheet, number = _sheet(book, name, header, bold), 1
    at, widths = 0, [len(title) for title in header]
    for row in rows:
        if at == MOST_ROWS:
            number += 1
            sheet, at = _sheet(book, f"{name} {number}", header, bold), 0
        at += 1
        for column, value in enumerate(row):
            _write(sheet, at, column, value)
            if number == 1 and at <= _MEASURED:
                widths[column] = max(widths[column], len(str(value or "")))
    for column, width in enumerate(widths):
        sheet.set_column(column, column, min(width, _WIDEST) + 1)


def _sheet(
    book: "xlsxwriter.Workbook", name: str, header: Sequence[str], bold: object
) -> "xlsxwriter.worksheet.Worksheet":
    sheet = book.add_worksheet(name)
    sheet.freeze_panes(1, 0)
    for column, title in enumerate(header):
        sheet.write_string(0, column, title, bold)
    return sheet


def _write(sheet: "xlsxwriter.worksheet.Worksheet", row: int, column: int, value: object) -> None:
    if isinstance(value, int | float | Decimal) and not isinstance(value, bool):
        sheet.write_number(row, column, float(value))
    elif value is not None:
        sheet.write_string(row, column, str(value)[:_MOST_CHARACTERS])
