"""Recorded trends as CSV: `patient,second,<vital-sign>…`; an empty cell is missing.

A file that is long and plain is read in blocks (`plain_trends`). All others are read by the
standard csv module, row by row: unlike a columnar reader it can name the line and column of every
wrong cell, and it costs no import. The rows go straight into flat columns, and a text seen before
is not parsed again, since recorded values repeat.
"""

import math
import re
from array import array
from collections.abc import Set
from io import SEEK_END
from typing import BinaryIO

import numpy as np

from app.domain.errors import Refused
from app.domain.trends import Trends
from app.exchange.csv_text import Faults, Line, read_lines
from app.exchange.numbers import plain_number
from app.exchange.plain_trends import WORTH_IT, NotPlainError, read_plain_trends
from app.exchange.trend_columns import REQUIRED, Sizes, check_columns

_WHOLE = re.compile(r"-?\d{1,15}", re.ASCII)
_MOST_REMEMBERED = 100_000
_LOOK_EVERY = 100_000  # rows


def read_trends(source: BinaryIO, known_vital_signs: Set[str]) -> Trends:
    """Raises Refused with every cell that is wrong."""
    return read_named_trends(source, known_vital_signs)[0]


def read_named_trends(
    source: BinaryIO, known_vital_signs: Set[str], check_size: Sizes | None = None
) -> tuple[Trends, list[str]]:
    """Besides, what the file calls the patients, in their order."""
    if _length(source) > WORTH_IT:
        try:
            return read_plain_trends(source, known_vital_signs, check_size)
        except NotPlainError:
            source.seek(0)
    return read_by_row(source, known_vital_signs, check_size)


def _length(source: BinaryIO) -> int:
    """In bytes; of what cannot be read twice 0."""
    if not source.seekable():
        return 0
    length = source.seek(0, SEEK_END)
    source.seek(0)
    return length


def read_by_row(
    source: BinaryIO, known_vital_signs: Set[str], check_size: Sizes | None = None
) -> tuple[Trends, list[str]]:
    reader = _Reader(known_vital_signs)
    for line in read_lines(source, required=REQUIRED, optional=None):
        reader.take(line)
        if check_size is not None and len(reader.second) % _LOOK_EVERY == 0:
            check_size(len(reader.second), len(reader.values))
    reader.faults.refuse_if_any()
    return reader.trends(), list(reader.patients)


class _Reader:
    def __init__(self, known_vital_signs: Set[str]) -> None:
        self.known = known_vital_signs
        self.faults = Faults()
        self.numbers = {"": math.nan}  # by the text of a cell
        self.patients: dict[str, int] = {}
        self.name: str | None = None  # patient of the row before
        self.patient, self.second = array("q"), array("q")
        self.values: dict[str, array[float]] = {}

    def take(self, line: Line) -> None:
        if not self.second:
            check_columns(list(line.cells), self.known)
            self.values = {name: array("d") for name in line.cells if name not in REQUIRED}
        follows = self._follows(line)
        self.second.append(self._second(line, follows=follows))
        self.patient.append(self.patients[self.name or ""])
        for name, column in self.values.items():
            known = self.numbers.get(line.cells[name])
            column.append(self._value(line, name) if known is None else known)

    def _follows(self, line: Line) -> bool:
        """Whether the row before belongs to the same patient."""
        name = line.cells["patient"].strip()
        if name and name == self.name:
            return True
        if not name:
            self.faults.add(line.number, "patient", "is empty", "")
        elif name in self.patients:
            reason = "the rows of a patient must stand together"
            self.faults.add(line.number, "patient", reason, name)
        self.patients.setdefault(name, len(self.patients))
        self.name = name
        return False

    def _second(self, line: Line, *, follows: bool) -> int:
        text = line.cells["second"].strip()
        before = self.second[-1] if follows else None
        if not _WHOLE.fullmatch(text):
            self.faults.add(line.number, "second", "must be a whole number", text)
            return before or 0
        second = int(text)
        if before is not None and second <= before:
            reason = f"must rise within a patient, and the row before has {before}"
            self.faults.add(line.number, "second", reason, text)
        return second

    def _value(self, line: Line, name: str) -> float:
        text = line.cells[name]
        number = plain_number(text) if text.strip() else math.nan
        if number is None:
            self.faults.add(line.number, name, "must be a number or empty", text)
            return math.nan
        if len(self.numbers) < _MOST_REMEMBERED:
            self.numbers[text] = float(number)
        return float(number)

    def trends(self) -> Trends:
        if not self.second:
            raise Refused.because("the file holds no rows", column="file")
        patient, second = np.array(self.patient), np.array(self.second)
        apart = np.diff(second)[np.diff(patient) == 0]
        step = int(apart.min()) if apart.size else 1  # one row a patient: no step to be seen
        values = {name: np.array(column) for name, column in self.values.items()}
        return Trends(patient, second, values, step)
