"""An agency's own centile table as CSV: `vital_sign,age_from,age_to,p01,p05,…`."""

import re
from typing import BinaryIO, NoReturn

from app.domain.centiles import CentileRow, CentileTable
from app.domain.errors import Fault, Refused
from app.domain.vital_signs import VITAL_SIGNS
from app.exchange.bounds_csv import read_span
from app.exchange.csv_text import Faults, Line, read_lines
from app.exchange.numbers import plain_number

REQUIRED = ("vital_sign", "age_from", "age_to")
_CENTILE = re.compile(r"p(\d{1,2}(?:\.\d+)?)", re.ASCII)


def read_reference(source: BinaryIO, name: str) -> CentileTable:
    """Raises Refused with every row that is wrong; bands of one vital sign may not overlap."""
    faults = Faults()
    rows: list[CentileRow] = []
    for line in read_lines(source, required=REQUIRED, optional=None, faults=faults):
        row = _row(line, _centiles(line), faults)
        if row is not None and any(_meet(row, other) for other in rows):
            faults.add(
                line.number, "age_from", "overlaps a band further up", line.cells["age_from"]
            )
        rows += [row] if row is not None else []
    faults.refuse_if_any()
    if not rows:
        faults.add(2, "file", "holds no centiles")
        faults.refuse_if_any()
    return CentileTable(name, "own table", tuple(rows))


def _meet(row: CentileRow, other: CentileRow) -> bool:
    return row.vital_sign == other.vital_sign and row.span.meet(other.span) is not None


def _centiles(line: Line) -> dict[str, float]:
    """Column → centile; raises Refused for a column that is none."""
    found: dict[str, float] = {}
    for column in line.cells:
        if column not in REQUIRED:
            match = _CENTILE.fullmatch(column)
            centile = float(match[1]) if match else 0.0
            if not 0 < centile < 100:
                _refuse_column(column, "must be a centile such as p01 or p97.5")
            if centile in found.values():
                _refuse_column(column, "this centile stands twice")
            found[column] = centile
    if len(found) < 2:
        raise Refused.because("the table needs at least two centile columns, such as p01 and p99")
    return dict(sorted(found.items(), key=lambda item: item[1]))


def _refuse_column(column: str, reason: str) -> NoReturn:
    raise Refused([Fault(reason, 1, column, column)])


def _row(line: Line, centiles: dict[str, float], faults: Faults) -> CentileRow | None:
    cells = {name: cell.strip() for name, cell in line.cells.items()}
    if cells["vital_sign"] not in VITAL_SIGNS:
        faults.add(line.number, "vital_sign", "is no vital sign", cells["vital_sign"])
        return None
    span = read_span(line.number, cells, faults)
    values = _values(line.number, cells, centiles, faults)
    if span is None or values is None:
        return None
    return CentileRow(
        cells["vital_sign"],
        f"{cells['age_from']} - {cells['age_to'] or 'open'}",
        span,
        tuple(centiles[column] for column in values),
        tuple(values.values()),
    )


def _values(
    line: int, cells: dict[str, str], centiles: dict[str, float], faults: Faults
) -> dict[str, float] | None:
    """The centiles that are filled in, rising; None where something is wrong."""
    found: dict[str, float] = {}
    for column in centiles:
        number = plain_number(cells[column])
        if number is None and cells[column]:
            faults.add(line, column, "must be a number", cells[column])
            return None
        if number is not None:
            if found and float(number) < max(found.values()):
                faults.add(line, column, "must not fall below a lower centile", cells[column])
                return None
            found[column] = float(number)
    if len(set(found.values())) < 2:
        faults.add(line, "file", "needs at least two different centile values")
        return None
    return found
