"""A file of readings, whatever it is, as rows of ours."""

from collections.abc import Sequence
from datetime import datetime
from typing import BinaryIO

from app.domain.column_maps import ColumnMap, signature_of
from app.domain.errors import Refused
from app.exchange.csv_text import Faults, check_header
from app.exchange.mapped_rows import MappedRows
from app.exchange.numbers import plain_number
from app.exchange.report_rows import CsvRows, Rows
from app.exchange.report_rows_xlsx import XlsxRows
from app.exchange.reports_csv import OPTIONAL, REQUIRED
from app.exchange.workbook_bounds import is_workbook

_FIRST_BYTES = 4


class OtherColumns(Refused):
    """The file is another system's: its columns are not ours, and no map tells which is which."""

    def __init__(self, refused: Refused, header: Sequence[str]) -> None:
        super().__init__(refused.faults)
        self.header = tuple(header)


def can_be_mapped(header: Sequence[str]) -> bool:
    """Whether these are names that somebody could tell the meaning of: not a row of values, as
    where the header is missing, nor ours with some more."""
    named = len(header) > 1 and all(header) and len(set(header)) == len(header)
    return named and not set(REQUIRED) <= set(header) and not any(map(_is_value, header))


def _is_value(name: str) -> bool:
    try:
        datetime.fromisoformat(name)
    except ValueError:
        return plain_number(name) is not None
    return True


def rows_as_written(content: BinaryIO, faults: Faults) -> Rows:
    """With the columns that the file has. Raises Refused where it cannot be read at all."""
    content.seek(0)
    first = content.read(_FIRST_BYTES)
    content.seek(0)
    return XlsxRows(content, faults) if is_workbook(first) else CsvRows(content, faults)


def rows_of(content: BinaryIO, maps: Sequence[ColumnMap], faults: Faults) -> Rows:
    """With our columns. Raises OtherColumns, a Refused, where they cannot be told."""
    rows = rows_as_written(content, faults)
    if not set(REQUIRED) <= set(rows.header):
        signature = signature_of(rows.header)
        by = next((one for one in maps if one.signature == signature), None)
        if by is not None:
            return MappedRows(rows, by)
    try:
        check_header(list(rows.header), REQUIRED, OPTIONAL)
    except Refused as refused:
        raise OtherColumns(refused, rows.header) from refused
    return rows
