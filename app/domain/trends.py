"""Recorded trends, and the lines they are replayed against."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from app.domain.alarm_conditions import Side

Numbers = NDArray[np.float64]
Flags = NDArray[np.bool_]
Whole = NDArray[np.int64]


@dataclass(frozen=True)
class Line:
    """One line that can sound; a deep line is another, named `<alarm>.deep`.

    What follows the limit is off unless asked for: a recording comes from a monitor that has
    averaged already, and nobody acknowledges anything in it.
    """

    alarm: str
    vital_sign: str
    side: Side
    limit: float
    delay_s: float
    intermittent: bool = False
    averaging_s: float = 0.0  # of the values, before the limit
    hysteresis: float = 0.0  # an alarm ends only so far inside the limit
    acknowledged_after_s: float = 0.0  # above 0 the alarm is latched, and sounds at least so long


@dataclass(frozen=True)
class Trends:
    """Rows of one patient stand together. `patient` numbers them from 0, `second` rises within
    each, `values` holds one column a vital sign, NaN where missing; `step_s` is the smallest
    difference of `second` within a patient over the whole recording."""

    patient: Whole
    second: Whole
    values: Mapping[str, Numbers]
    step_s: int

    @property
    def rows(self) -> int:
        return int(self.patient.size)

    @property
    def patients(self) -> int:
        return int(self.patient[-1]) + 1 if self.rows else 0

    @property
    def hours(self) -> float:
        return self.rows * self.step_s / 3600

    def begun_anew(self) -> "Trends":
        """Each patient from second 0 on: a clock of the world would tell when a journey was."""
        first = np.flatnonzero(np.diff(self.patient, prepend=-1))
        seconds = self.second[first][self.patient]
        np.subtract(self.second, seconds, out=seconds)
        return replace(self, second=seconds)

    def starts(self) -> Flags:
        """True where a row does not follow the row before it without a jump."""
        starts = np.ones(self.rows, dtype=bool)
        starts[1:] = self.second[1:] - self.second[:-1] > self.step_s
        starts[1:] |= self.patient[1:] != self.patient[:-1]
        return starts
