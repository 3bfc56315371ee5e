"""The rows of a file of readings, one after the other, each with its place in the file."""

import csv
import io
from collections.abc import Iterator, Sequence
from typing import BinaryIO, NoReturn, Protocol

from app.domain.errors import Fault, Refused
from app.domain.file_lines import FileLines
from app.exchange.csv_text import LONGEST_CELL, Bounded, Faults, header_of
from app.exchange.report_runs import PlainRuns, Run, grouped, is_plain

_READ_AT_ONCE = 1 << 16


class Rows(Protocol):
    """`lines`: of each row handed out so far, where it stands. `wide`: each alarm has a column of
    its own, and what is wrong with a reading is told by the alarm."""

    @property
    def wide(self) -> bool: ...

    @property
    def header(self) -> Sequence[str]: ...

    @property
    def lines(self) -> FileLines: ...

    def __iter__(self) -> Iterator[Sequence[str]]:
        """Raises Refused where the rest cannot be read at all."""

    def runs(self, shared: Sequence[int], others: Sequence[int]) -> Iterator[Run]:
        """All of it as well: neighbours with the same cells at the places `shared`."""

    def placed(self, fault: Fault) -> Fault:
        """The same, told by the place that people see in their file."""


class CsvRows:
    """A row of another width than the header is left out and told in `faults`."""

    wide = False

    def __init__(self, source: BinaryIO, faults: Faults) -> None:
        self._source, self._faults = source, faults
        self.lines = FileLines()
        self._begin()

    def _begin(self) -> None:
        self._source.seek(0)
        buffered = io.BufferedReader(Bounded(self._source), _READ_AT_ONCE)  # type: ignore[type-var]
        text = io.TextIOWrapper(buffered, encoding="utf-8-sig", newline="")
        self._reader = csv.reader(text, strict=True)
        try:
            self.header = header_of(self._reader, (), None)
        except UnicodeDecodeError:
            self._no_text()

    def __iter__(self) -> Iterator[list[str]]:
        try:
            yield from self._rows()
        except UnicodeDecodeError:
            self._no_text()
        except csv.Error as error:
            _refuse(self._reader.line_num, f"this is no CSV: {error}")

    def runs(self, shared: Sequence[int], others: Sequence[int]) -> Iterator[Run]:
        width = len(self.header)
        together = others[-1] - others[0] == len(others) - 1
        if together and is_plain(self._source):
            yield from PlainRuns(self._source, width, others).runs(self.lines, self._faults)
            return
        self._begin()
        yield from grouped(self, shared, others)

    def _rows(self) -> Iterator[list[str]]:
        reader, width, stands_at = self._reader, len(self.header), self.lines.add
        for row in reader:
            if len(row) == width:
                stands_at(reader.line_num)
                yield row
            elif row:
                reason = f"has {len(row)} cells where the header has {width}"
                self._faults.add(reader.line_num, "row", reason)

    def _no_text(self) -> NoReturn:
        """Looks for the line: the decoder works on more than a line at a time."""
        self._source.seek(0)
        for number, line in enumerate(self._source, start=1):
            try:
                line.decode()
            except UnicodeDecodeError:
                _refuse(number, "this is not UTF-8 text")
        _refuse(1, "this is not UTF-8 text")

    def placed(self, fault: Fault) -> Fault:
        return fault


def _refuse(line: int, reason: str) -> NoReturn:
    raise Refused([Fault(reason, line, "file")])


def too_long(cells: Sequence[str]) -> bool:
    return max(map(len, cells)) > LONGEST_CELL
