"""Recorded trends as CSV: `patient,second,<vital-sign>…`; an empty cell is missing.

The standard csv module reads the rows: it is slower than a columnar reader, but it names the
line and the column of every wrong cell, and a million rows take seconds.
"""

import math
import re
from collections.abc import Set
from typing import BinaryIO

import numpy as np

from app.domain.errors import Refused
from app.domain.replay import Trends
from app.exchange.csv_text import Faults, Line, read_lines
from app.exchange.numbers import plain_number

REQUIRED = ("patient", "second")
_WHOLE = re.compile(r"-?\d{1,15}", re.ASCII)


def read_trends(source: BinaryIO, known_vital_signs: Set[str]) -> Trends:
    """Raises Refused with every cell that is wrong."""
    reader = _Reader()
    optional = tuple(sorted(known_vital_signs))
    for line in read_lines(source, required=REQUIRED, optional=optional):
        reader.take(line)
    reader.faults.refuse_if_any()
    return reader.trends()


class _Reader:
    def __init__(self) -> None:
        self.faults = Faults()
        self.patients: dict[str, int] = {}
        self.patient: list[int] = []
        self.second: list[int] = []
        self.values: dict[str, list[float]] = {}

    def take(self, line: Line) -> None:
        patient = self._patient(line)
        second = self._second(line, patient)
        if not self.values:
            self.values = {name: [] for name in line.cells if name not in REQUIRED}
        for name, column in self.values.items():
            column.append(self._value(line, name))
        self.patient.append(patient)
        self.second.append(second)

    def _patient(self, line: Line) -> int:
        name = line.cells["patient"].strip()
        if not name:
            self.faults.add(line.number, "patient", "is empty", "")
        number = self.patients.setdefault(name, len(self.patients))
        if self.patient and number < self.patient[-1]:
            self.faults.add(
                line.number, "patient", "the rows of a patient must stand together", name
            )
        return number

    def _second(self, line: Line, patient: int) -> int:
        text = line.cells["second"].strip()
        if not _WHOLE.fullmatch(text):
            self.faults.add(line.number, "second", "must be a whole number", text)
            return 0
        second = int(text)
        if self.patient and self.patient[-1] == patient and second <= self.second[-1]:
            self.faults.add(line.number, "second", "must rise within a patient", text)
        return second

    def _value(self, line: Line, name: str) -> float:
        text = line.cells[name].strip()
        if not text:
            return math.nan
        number = plain_number(text)
        if number is None:
            self.faults.add(line.number, name, "must be a number or empty", text)
            return math.nan
        return float(number)

    def trends(self) -> Trends:
        if not self.patient:
            raise Refused.because("the file holds no rows", column="file")
        patient = np.array(self.patient, dtype=np.int64)
        second = np.array(self.second, dtype=np.int64)
        apart = np.diff(second)[np.diff(patient) == 0]
        step = int(apart.min()) if apart.size else 1  # one row a patient: no step to be seen
        values = {name: np.array(column) for name, column in self.values.items()}
        return Trends(patient, second, values, step)
