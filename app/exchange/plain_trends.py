"""Recorded trends as CSV in blocks, where the text is as plain as most is: no quotes, no doubt.

Here nothing is refused. Whatever is not plain, or wrong, is read again row by row by `trends_csv`,
which names the line and column of every wrong cell. What is read here is what it would read.

Beside what the file becomes, no more than a block is in memory. The rows are counted beforehand,
so that the columns need not grow; every different text of a block is parsed once.
"""

import math
from collections.abc import Iterator, Mapping, Sequence, Set
from io import RawIOBase
from typing import Any, BinaryIO

import numpy as np

from app.domain.errors import Refused
from app.domain.trends import Numbers, Trends, Whole
from app.exchange.csv_text import LONGEST_CELL, MOST_BYTES, header_of, too_large
from app.exchange.numbers import plain_number
from app.exchange.trend_columns import REQUIRED, Sizes, check_columns

BLOCK = 1 << 20
WORTH_IT = 1 << 20
"""Bytes; below that the library would take longer to load than the rows to read."""
_SECOND = "^-?[0-9]{1,15}$"


class NotPlainError(Exception):
    """Somebody must look at the rows one by one."""


def read_plain_trends(
    source: BinaryIO,
    known_vital_signs: Set[str],
    check_size: Sizes | None = None,
    block: int = BLOCK,
) -> tuple[Trends, list[str]]:
    """(trends, what the file calls the patients). Raises NotPlainError, and only for its size
    Refused."""
    lines = _lines(source, block)
    source.seek(0)
    header = _header(source, known_vital_signs)
    reader = _Reader(header, lines)
    for batch in _batches(source, header, block):
        reader.take(batch)
        if check_size is not None:
            check_size(reader.rows, len(header) - len(REQUIRED))
    return reader.trends(), list(reader.patients)


def _lines(source: BinaryIO, block: int) -> int:
    """How many there are of plain text, the header counted in."""
    source.seek(0)
    content = lines = 0
    while piece := source.read(block):
        if piece.endswith(b"\r"):
            piece += source.read(1)
        content += len(piece)
        lines += piece.count(b"\n")
        if content > MOST_BYTES:
            raise too_large()
        if b'"' in piece or piece.count(b"\r") != piece.count(b"\r\n"):
            raise NotPlainError
    return lines


def _header(source: BinaryIO, known: Set[str]) -> list[str]:
    try:
        line = source.readline(LONGEST_CELL).decode("utf-8-sig")
        header = header_of(iter([line.rstrip("\r\n").split(",")]), REQUIRED, None)
        check_columns(header, known)
    except (UnicodeDecodeError, Refused):
        raise NotPlainError from None
    if not line.endswith("\n"):
        raise NotPlainError
    return header


def _batches(source: BinaryIO, header: Sequence[str], block: int) -> Iterator[Any]:
    import pyarrow
    from pyarrow import csv

    told = pyarrow.dictionary(pyarrow.int32(), pyarrow.string())
    types = {name: pyarrow.string() if name == "second" else told for name in header}
    try:
        yield from csv.open_csv(
            _Rest(source),
            read_options=csv.ReadOptions(
                use_threads=False, block_size=max(block, LONGEST_CELL), column_names=header
            ),
            parse_options=csv.ParseOptions(quote_char=False),
            convert_options=csv.ConvertOptions(
                column_types=types, null_values=[], strings_can_be_null=False
            ),
        )
    except pyarrow.ArrowException:
        raise NotPlainError from None


class _Rest(RawIOBase):
    """What stands behind the header; the library closes what it has read, and not the file."""

    def __init__(self, source: BinaryIO) -> None:
        self.source = source

    def readable(self) -> bool:
        return True

    def read(self, size: int = -1) -> bytes:
        return self.source.read(size)


class _Reader:
    """Columns of as many rows as there may be, filled from the top."""

    def __init__(self, header: Sequence[str], most_rows: int) -> None:
        self.rows = 0
        self.step: int | None = None
        self.patients: dict[str, int] = {}
        self._most = most_rows
        self._patient, self._second = (np.empty(most_rows, np.int64) for _ in range(2))
        self._values = {name: np.empty(most_rows) for name in header if name not in REQUIRED}

    def take(self, batch: Any) -> None:
        rows = slice(self.rows, self.rows + batch.num_rows)
        if rows.stop > self._most:
            raise NotPlainError
        self._patient[rows] = self._numbered(batch.column("patient"))
        self._second[rows] = _seconds(batch.column("second"))
        for name, column in self._values.items():
            column[rows] = _numbers(batch.column(name))
        self._look_at_steps(max(rows.start - 1, 0), rows.stop)
        self.rows = rows.stop

    def _numbered(self, column: Any) -> Whole:
        codes = _codes(column)
        names = [name.strip() for name in _texts(column)]
        begins = np.flatnonzero(np.diff(codes, prepend=-1))
        last = int(self._patient[self.rows - 1]) if self.rows else -1
        numbers = np.full(len(names), -1, np.int64)
        for code in codes[begins].tolist():
            known = self.patients.get(names[code])
            if not names[code] or known not in (None, last):
                raise NotPlainError
            last = self.patients.setdefault(names[code], len(self.patients))
            numbers[code] = last
        found: Whole = numbers[codes]
        return found

    def _look_at_steps(self, start: int, stop: int) -> None:
        """The smallest difference within a patient, which must rise."""
        same = np.diff(self._patient[start:stop]) == 0
        apart = np.diff(self._second[start:stop])[same]
        if apart.size:
            least = int(apart.min())
            if least <= 0:
                raise NotPlainError
            self.step = least if self.step is None else min(self.step, least)

    def trends(self) -> Trends:
        if not self.rows:
            raise NotPlainError
        rows = slice(self.rows)
        values: Mapping[str, Numbers] = {name: one[rows] for name, one in self._values.items()}
        return Trends(self._patient[rows], self._second[rows], values, self.step or 1)


def _codes(column: Any) -> Whole:
    codes: Whole = column.indices.to_numpy(zero_copy_only=False).astype(np.int64)
    return codes


def _texts(column: Any) -> list[str]:
    texts: list[str] = column.dictionary.to_pylist()
    if any(len(text) > LONGEST_CELL for text in texts):
        raise NotPlainError
    return texts


def _numbers(column: Any) -> Numbers:
    """Every different text is parsed once, as one alone would be."""
    parsed = np.array([_number(text) for text in _texts(column)])
    found: Numbers = parsed[_codes(column)]
    return found


def _number(text: str) -> float:
    number = plain_number(text) if text.strip() else math.nan
    if number is None:
        raise NotPlainError
    return float(number)


def _seconds(column: Any) -> Whole:
    import pyarrow
    from pyarrow import compute

    if not compute.all(compute.match_substring_regex(column, _SECOND)).as_py():
        raise NotPlainError
    return np.asarray(column.cast(pyarrow.int64()).to_numpy(zero_copy_only=False))
