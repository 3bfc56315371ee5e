"""Outer bounds as CSV, one bound a row."""

import csv
import io
import unicodedata
from decimal import Decimal
from fractions import Fraction
from typing import BinaryIO

from app.domain.ages import Age, AgeSpan
from app.domain.alarm_conditions import Side
from app.domain.errors import Fault, Refused
from app.domain.outer_bounds import GRADES, OuterBound, OuterBounds, read_formula
from app.domain.settings_of_alarms import show_number
from app.domain.silence import sides
from app.domain.vital_signs import judged_as
from app.exchange.csv_text import Faults, Line, read_lines

COLUMNS = (
    "vital_sign",
    "age_from",
    "age_to",
    "when",
    "side",
    "bound",
    "grade",
    "source",
    "status",
)
MOST_BYTES = 512 * 1024
MOST_ROWS = 1000
PLACES = {(quantity, side) for group, side in sides() for quantity in group}


def read_bounds(source: BinaryIO, name: str) -> OuterBounds:
    """Raises Refused with every row that is wrong."""
    faults = Faults()
    rows = [_row(line, faults) for line in read_lines(source, required=COLUMNS, faults=faults)]
    faults.refuse_if_any()
    if not rows:
        faults.add(2, "file", "holds no bound")
    if len(rows) > MOST_ROWS:
        faults.add(MOST_ROWS + 2, "file", f"holds more than {MOST_ROWS} bounds")
    faults.refuse_if_any()
    return OuterBounds(name, tuple(row for row in rows if row is not None))


def _row(line: Line, faults: Faults) -> OuterBound | None:
    cells = {name: cell.strip() for name, cell in line.cells.items()}
    before = faults.count
    _check_texts(line.number, cells, faults)
    span = read_span(line.number, cells, faults)
    side: Side = "low" if cells["side"] == "low" else "high"
    if cells["side"] not in ("low", "high"):
        faults.add(line.number, "side", "must be low or high", cells["side"])
    elif (cells["vital_sign"], side) not in PLACES:
        faults.add(line.number, "vital_sign", f"has no {side} bound", cells["vital_sign"])
    elif judged_as(cells["vital_sign"]) != cells["vital_sign"]:
        reason = f"is judged by the bounds of {judged_as(cells['vital_sign'])}: write it there"
        faults.add(line.number, "vital_sign", reason, cells["vital_sign"])
    if cells["grade"] not in GRADES:
        faults.add(line.number, "grade", f"must be {' or '.join(GRADES)}", cells["grade"])
    try:
        formula = read_formula(cells["bound"])
    except ValueError as error:
        faults.add(line.number, "bound", str(error), cells["bound"])
    if faults.count > before or span is None:
        return None
    when = cells["when"].replace(" ", "-") or None
    return OuterBound(
        cells["vital_sign"],
        span,
        side,
        *formula,
        cells["grade"],
        cells["status"],
        cells["source"],
        when,
    )


def read_bound(cells: dict[str, str]) -> OuterBound:
    """One row as typed, a cell a column. Raises Refused with the column of each fault."""
    faults = Faults()
    row = _row(Line(1, {name: cells.get(name, "") for name in COLUMNS}), faults)
    if row is None:
        raise Refused(
            [Fault(one.reason, column=one.column, value=one.value) for one in faults.told]
        )
    return row


def cells_of(row: OuterBound) -> dict[str, str]:
    """A row as it would be typed."""
    return dict(zip(COLUMNS, _cells(row), strict=True))


def _check_texts(line: int, cells: dict[str, str], faults: Faults) -> None:
    if not cells["source"]:
        faults.add(line, "source", "is empty: every bound names its source", "")
    for column in ("source", "status", "when"):
        if any(unicodedata.category(character) == "Cc" for character in cells[column]):
            faults.add(line, column, "remove the characters that cannot be printed")


def read_span(line: int, cells: dict[str, str], faults: Faults) -> AgeSpan | None:
    """The half-open ages of `age_from` and `age_to`; an empty `age_to` is open."""
    ages: list[Age | None] = []
    for column in ("age_from", "age_to"):
        try:
            open_ended = column == "age_to" and not cells[column]
            ages.append(None if open_ended else Age.parse(cells[column]))
        except ValueError as error:
            faults.add(line, column, str(error), cells[column])
            return None
    start, end = ages
    if start is None or (end is not None and end <= start):
        faults.add(line, "age_to", "must be older than age_from", cells["age_to"])
        return None
    return AgeSpan(start, end)


def text_of(raw: bytes) -> str:
    """An uploaded file as text. Raises Refused if it is too large or no UTF-8."""
    if len(raw) > MOST_BYTES:
        raise Refused.because(f"the file is larger than {MOST_BYTES // 1024} KiB")
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        raise Refused([Fault("this is not UTF-8 text", line, "file")]) from None


def write_bounds(bounds: OuterBounds) -> str:
    """The canonical text: `read_bounds` gives back the very same rows."""
    written = io.StringIO()
    writer = csv.writer(written)
    writer.writerow(COLUMNS)
    writer.writerows(_cells(row) for row in bounds.rows)
    return written.getvalue()


def _cells(row: OuterBound) -> tuple[str, ...]:
    end = "" if row.span.end is None else _written_age(row.span.end)
    return (
        row.quantity,
        _written_age(row.span.start),
        end,
        row.when or "",
        row.side,
        written_formula(row),
        row.grade,
        row.source,
        row.status,
    )


def written_formula(row: OuterBound) -> str:
    base = _decimal(row.base)
    return f"{base} + {_decimal(row.per_year)} * age_years" if row.per_year else base


def _written_age(age: Age) -> str:
    """`str` rounds what people read; here nothing may be lost."""
    if Age.parse(str(age)) == age:
        return str(age)
    amounts = {"y": age.years, "mo": age.months, "d": age.days}
    fine = {unit: amount for unit, amount in amounts.items() if (amount * 10_000).denominator == 1}
    unit, amount = next(iter(fine.items()))
    return f"{_decimal(amount)} {unit}"


def _decimal(value: Fraction) -> str:
    """Exact: whatever was read has at most four decimals."""
    return show_number(Decimal(value.numerator) / Decimal(value.denominator))
