"""CSV (RFC 4180, UTF-8, BOM tolerated) as named cells with line numbers, read as a stream."""

import codecs
import csv
import io
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import BinaryIO, NoReturn

from app.domain.errors import Fault, Refused

MOST_BYTES = 256 * 1024 * 1024
MOST_FAULTS = 100
LONGEST_CELL = 2000


@dataclass(frozen=True, slots=True)
class Line:
    number: int
    cells: dict[str, str]


class Faults:
    """Collects what is wrong, the first of it in words, and refuses the whole file with it."""

    def __init__(self, most: int = MOST_FAULTS) -> None:
        self.most = most
        self.told: list[Fault] = []
        self.count = 0

    def add(self, line: int, column: str, reason: str, value: object = None) -> None:
        self.count += 1
        if len(self.told) < self.most:
            self.told.append(Fault(reason, line, column, value))

    def refuse_if_any(self) -> None:
        if self.count > len(self.told):
            self.told.append(Fault(f"and {self.count - len(self.told)} more rows are wrong"))
        if self.told:
            raise Refused(self.told)


def read_lines(
    source: BinaryIO,
    *,
    required: Sequence[str],
    optional: Sequence[str] | None = (),
    faults: Faults | None = None,
) -> Iterator[Line]:
    """Raises Refused for the header or the encoding; `optional` None lets any column through.

    A row of the wrong width is left out and told in `faults`; without these it is refused at once.
    """
    reader = csv.reader(_text(source), strict=True)
    header = header_of(reader, required, optional)
    while True:
        try:
            row = next(reader)
        except StopIteration:
            return
        except csv.Error as error:
            _refuse(reader.line_num, "file", f"this is no CSV: {error}")
        if row and _right_width(row, header, reader.line_num, faults):
            yield Line(reader.line_num, dict(zip(header, row, strict=True)))


def _text(source: BinaryIO) -> Iterator[str]:
    """Decoded line by line, so that the line that is no UTF-8 can be told."""
    bounded = io.BufferedReader(Bounded(source))  # type: ignore[type-var]
    for number, line in enumerate(bounded, start=1):
        try:
            yield (line.removeprefix(codecs.BOM_UTF8) if number == 1 else line).decode()
        except UnicodeDecodeError:
            _refuse(number, "file", "this is not UTF-8 text")


class Bounded(io.RawIOBase):
    """Stops a file that is larger than allowed while it streams."""

    def __init__(self, source: BinaryIO) -> None:
        self.source = source
        self.read_so_far = 0

    def readable(self) -> bool:
        return True

    def readinto(self, buffer: bytearray) -> int:  # type: ignore[override]
        chunk = self.source.read(len(buffer))
        self.read_so_far += len(chunk)
        if self.read_so_far > MOST_BYTES:
            raise too_large()
        buffer[: len(chunk)] = chunk
        return len(chunk)


def too_large() -> Refused:
    return Refused.because(f"the file is larger than {MOST_BYTES // 1024 // 1024} MiB")


def header_of(
    reader: Iterator[list[str]], required: Sequence[str], optional: Sequence[str] | None
) -> list[str]:
    try:
        header = [name.strip() for name in next(reader)]
    except StopIteration:
        _refuse(1, "file", "the file is empty")
    except csv.Error as error:
        _refuse(1, "file", f"this is no CSV: {error}")
    check_header(header, required, optional)
    return header


def check_header(
    header: list[str], required: Sequence[str], optional: Sequence[str] | None
) -> None:
    faults = Faults()
    for name in required:
        if name not in header:
            faults.add(1, name, "this column is missing")
    for index, name in enumerate(header):
        if name in header[:index]:
            faults.add(1, name, "this column stands twice", name)
        elif optional is not None and name not in required and name not in optional:
            faults.add(1, name or f"column {index + 1}", "unknown column", name)
    faults.refuse_if_any()


def _right_width(row: list[str], header: list[str], line: int, faults: Faults | None) -> bool:
    if len(row) != len(header):
        reason = f"has {len(row)} cells where the header has {len(header)}"
    elif max(map(len, row)) > LONGEST_CELL:
        reason = f"a cell is longer than {LONGEST_CELL} characters"
    else:
        return True
    if faults is None:
        _refuse(line, "row", reason)
    faults.add(line, "row", reason)
    return False


def _refuse(line: int, column: str, reason: str) -> NoReturn:
    raise Refused([Fault(reason, line, column)])
