"""Numbers in a recording that no monitor measures: marks of a missing value, slips of a column.

Files write -1, 127 or 65535 where nothing was measured (common practice). Taken for values they
would sound all day, so they are refused rather than guessed at.
"""

import numpy as np

from app.domain.errors import Fault, Refused
from app.domain.trends import Numbers, Trends
from app.domain.vital_signs import VITAL_SIGNS, VitalSign

FURTHEST = 1000.0
"""No vital sign reaches it in the units of this program."""


def check_measurable(trends: Trends) -> None:
    """Raises Refused with the first such number of every vital sign."""
    faults = [
        _fault(sign, values, found)
        for key, values in trends.values.items()
        if (sign := VITAL_SIGNS.get(key)) and (found := np.flatnonzero(_beyond(sign, values))).size
    ]
    if faults:
        raise Refused(faults)


def most_of(sign: VitalSign) -> float:
    return 100.0 if sign.unit == "%" else FURTHEST


def _beyond(sign: VitalSign, values: Numbers) -> np.ndarray:
    return (values < 0) | (values > most_of(sign))  # both false where nothing was measured


def _fault(sign: VitalSign, values: Numbers, found: np.ndarray) -> Fault:
    first, more = int(found[0]), int(found.size) - 1
    others = f", and {more} more like it" if more else ""
    reason = (
        f"no {sign.label} is outside 0 to {most_of(sign):g} {sign.shown} (row {first + 1} of the "
        f"values{others}): leave the cell empty where nothing was measured"
    )
    return Fault(reason, column=sign.key, value=float(values[first]))
