"""The rows of a workbook that somebody filled in, each cell with its name. Nothing is judged yet
but what no cell of such a sheet can be."""

import io
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import python_calamine

from app.domain.errors import Fault, Refused
from app.exchange import profile_xlsx_columns as sheets
from app.exchange.profile_xlsx_cells import LEFT, Value, from_cell
from app.exchange.profile_xlsx_columns import Column, Kind, Sheet
from app.exchange.workbook_bounds import column_name, unfit_cells

MOST_FAULTS = 100
Cells = Sequence[Sequence[object]]


@dataclass
class Faults:
    """All that is wrong, each by its cell."""

    told: list[Fault] = field(default_factory=list)
    unfit: set[int | str | None] = field(default_factory=set)  # cells of which nothing more is told

    def add_unfit(self, faults: Sequence[Fault]) -> None:
        self.told += faults
        self.unfit |= {fault.column for fault in faults}

    def add(self, place: str, reason: str, value: object = None) -> None:
        if place not in self.unfit:
            self.told.append(at_cell(place, reason, value))

    def add_those_elsewhere(self, faults: Iterable[Fault]) -> None:
        """What is no value at all is told once, not again as a value that is missing."""
        already = {fault.column for fault in self.told}
        placed = bool(already)
        self.told += [
            fault
            for fault in faults
            if fault.column not in already and not (placed and fault.column is None)
        ]

    def refuse_if_any(self) -> None:
        if self.told:
            raise self.refusal()

    def refusal(self) -> Refused:
        if len(self.told) <= MOST_FAULTS:
            return Refused(self.told)
        more = Fault(f"and {len(self.told) - MOST_FAULTS} more")
        return Refused([*self.told[:MOST_FAULTS], more])


def at_cell(place: str, reason: str, value: object = None) -> Fault:
    """`Settings!F12: must be a number (here: 9o)`."""
    plain = value if isinstance(value, str | int | float) else None
    here = "" if plain is None or plain == "" else f" (here: {_short(plain)})"
    return Fault(f"{reason}{here}", column=place, value=plain)


def _short(value: object) -> str:
    text = str(value).replace("\n", " ")
    return text if len(text) <= 40 else f"{text[:40]}…"


@dataclass(frozen=True)
class Row:
    """Values by column name, and the name of every cell, also of the empty ones."""

    number: int
    values: dict[str, Value]
    where: dict[str, str]

    def has(self, columns: Sequence[Column]) -> bool:
        return any(self.values.get(column.name, LEFT) is not LEFT for column in columns)


@dataclass(frozen=True)
class Filled:
    """What each sheet holds, and what About says by its first column."""

    about: dict[str, tuple[Value, str]]
    rows: dict[str, list[Row]]


def filled_in(raw: bytes, faults: Faults) -> Filled:
    """Raises Refused if it may not be opened; cells that are wrong go to `faults`."""
    faults.add_unfit(unfit_cells(raw))
    try:
        book = python_calamine.CalamineWorkbook.from_filelike(io.BytesIO(raw))
        found = {
            name: book.get_sheet_by_name(name).to_python(skip_empty_area=False)
            for name in book.sheet_names
        }
    except (python_calamine.CalamineError, ValueError) as error:
        raise Refused.because("this is no spreadsheet (XLSX): it cannot be read") from error
    _check_names(found, faults)
    rows = {
        sheet.name: _rows(sheet, found[sheet.name], faults)
        for sheet in sheets.SHEETS
        if sheet.name in found
    }
    return Filled(_about(found.get(sheets.ABOUT, []), faults), rows)


def _check_names(found: Mapping[str, Cells], faults: Faults) -> None:
    known = {sheets.ABOUT, *(sheet.name for sheet in sheets.SHEETS)}
    for name, rows in found.items():
        if name not in known and any(cell != "" for row in rows for cell in row):
            faults.add(f"{name}!A1", "this is no sheet of a profile: remove it")
    for sheet in (sheets.ABOUT, sheets.CATEGORIES.name, sheets.SETTINGS.name):
        if sheet not in found:
            faults.told.append(Fault(f"the sheet {sheet} is missing"))


def _about(rows: Cells, faults: Faults) -> dict[str, tuple[Value, str]]:
    """Rows whose second cell is empty are words for people."""
    found: dict[str, tuple[Value, str]] = {}
    known = (*sheets.ABOUT_KEYS, sheets.EDIT_VERSION)
    for number, row in enumerate(rows, start=1):
        key, cell = (*row, "", "")[:2]
        place = f"{sheets.ABOUT}!B{number}"
        if key in known:
            if key in found:
                faults.add(f"{sheets.ABOUT}!A{number}", "stands twice", key)
            kind: Kind = "number" if key in ("revision", sheets.EDIT_VERSION) else "text"
            found[str(key)] = (_read(cell, kind, place, faults), place)
        elif cell != "":
            faults.add(f"{sheets.ABOUT}!A{number}", f"must be one of {', '.join(known)}", key)
    return found


def _rows(sheet: Sheet, rows: Cells, faults: Faults) -> list[Row]:
    head = [str(cell).strip() for cell in rows[0]] if rows else []
    columns = _columns(sheet, head, faults)
    found = []
    for number, cells in enumerate(rows[1:], start=2):
        row = _row(sheet, number, cells, columns, faults)
        if row.has(sheet.all):
            found.append(row)
    return found


def _columns(sheet: Sheet, head: list[str], faults: Faults) -> dict[int, Column]:
    """Those that the first row names, wherever they stand."""
    known = {column.name: column for column in sheet.all}
    found: dict[int, Column] = {}
    for at, name in enumerate(head):
        place = f"{sheet.name}!{column_name(at + 1)}1"
        if name in known and known[name] in found.values():
            faults.add(place, "this column stands twice", name)
        elif name in known:
            found[at] = known[name]
        elif name:
            faults.add(place, f"unknown column; there are {', '.join(known)}", name)
    for column in sheet.names:
        if column not in found.values():
            faults.add(f"{sheet.name}!A1", f"the column {column.name} is missing")
    return found


def _row(
    sheet: Sheet, number: int, cells: Sequence[object], columns: dict[int, Column], faults: Faults
) -> Row:
    values: dict[str, Value] = {}
    where: dict[str, str] = {}
    for at, cell in enumerate(cells):
        place = f"{sheet.name}!{column_name(at + 1)}{number}"
        column = columns.get(at)
        if column is not None:
            where[column.name] = place
            values[column.name] = _read(cell, column.kind, place, faults)
        elif cell != "":
            faults.add(place, "stands in a column without a name", cell)
    return Row(number, values, where)


def _read(cell: object, kind: Kind, place: str, faults: Faults) -> Value:
    try:
        return from_cell(cell, kind)
    except ValueError as error:
        faults.add(place, str(error), cell if isinstance(cell, str | float) else str(cell))
        return LEFT
