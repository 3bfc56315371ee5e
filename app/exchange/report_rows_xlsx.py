"""The first sheet of a workbook (XLSX) as rows of readings; each fault is told by its cell."""

import io
from collections.abc import Iterator, Sequence
from datetime import date, datetime
from typing import BinaryIO, Protocol, cast

import python_calamine

from app.domain.errors import Fault, Refused
from app.domain.file_lines import FileLines
from app.exchange.csv_text import Faults
from app.exchange.report_runs import Run, grouped
from app.exchange.workbook_bounds import MOST_BYTES, Room, check_workbook, column_name

FOR_READINGS = Room(rows=200_000, columns=150, cells=2_000_000, unpacked=256 * 2**20)


class _Sheet(Protocol):
    name: str
    start: tuple[int, int] | None

    def iter_rows(self) -> Iterator[list[object]]: ...


class XlsxRows:
    """Empty rows are left out; so are the empty columns behind the last one with a name."""

    wide = False

    def __init__(self, source: BinaryIO, faults: Faults) -> None:
        raw = source.read(MOST_BYTES + 1)
        check_workbook(raw, FOR_READINGS)
        self._sheet, self._faults = _first_sheet(raw), faults
        self._rows = self._sheet.iter_rows()
        self.lines = FileLines()
        self._above = 0
        self.header = self._header()

    def _header(self) -> list[str]:
        for row in self._each():
            header = [_text(cell).strip() for cell in row]
            while header and not header[-1]:
                header.pop()
            for index, name in enumerate(header):
                if name in header[:index]:
                    told = "this column stands twice"
                    raise Refused([self.placed(Fault(told, self._above, name, name))])
            return header
        raise Refused.because("the first sheet is empty", column="file")

    def _each(self) -> Iterator[list[object]]:
        """With `_above`, its number in the sheet; empty rows are passed over."""
        for row in self._rows:
            self._above += 1
            if any(cell != "" for cell in row):
                yield row

    def __iter__(self) -> Iterator[Sequence[str]]:
        width = len(self.header)
        for row in self._each():
            if any(cell != "" for cell in row[width:]):
                reason = f"has a cell behind the last of the {width} columns with a name"
                self._faults.add(self._above, "row", reason)
                continue
            self.lines.add(self._above)
            cells = [_text(cell) for cell in row[:width]]
            yield cells + [""] * (width - len(cells))

    def runs(self, shared: Sequence[int], others: Sequence[int]) -> Iterator[Run]:
        return grouped(self, shared, others)

    def placed(self, fault: Fault) -> Fault:
        header = getattr(self, "header", [])
        column = str(fault.column)
        first = self._sheet.start[1] if self._sheet.start else 0
        letters = column_name(first + header.index(column) + 1) if column in header else ""
        place = f"{self._sheet.name}!{letters}{fault.line}"
        return Fault(fault.reason, None, place, fault.value)


def _first_sheet(raw: bytes) -> _Sheet:
    try:
        book = python_calamine.CalamineWorkbook.from_filelike(io.BytesIO(raw))
        return cast("_Sheet", book.get_sheet_by_index(0))
    except python_calamine.CalamineError as error:
        raise Refused.because("this is no spreadsheet (XLSX) that can be read") from error


def _text(cell: object) -> str:
    """As a file with text would hold it; a date of a spreadsheet never has a zone."""
    if isinstance(cell, bool):
        return "true" if cell else "false"
    if isinstance(cell, float):
        return f"{cell:.6f}".rstrip("0").rstrip(".")
    if isinstance(cell, datetime):
        return cell.isoformat(sep=" ")
    return cell.isoformat() if isinstance(cell, date) else str(cell)
