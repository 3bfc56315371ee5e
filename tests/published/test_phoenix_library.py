"""Phoenix 2024 mean arterial pressure against the independent library phoenix-sepsis 1.1.3."""

import numpy as np
import phoenix
import pytest

from app.domain.ages import months
from app.domain.reference_ranges import phoenix_2024

PRESSURES = np.arange(5, 121)


@pytest.mark.parametrize("month", range(216))
def test_every_pressure_at_every_month(month: int) -> None:
    (steps,) = [steps for steps in phoenix_2024.TABLE if months(month) in steps.ages]

    theirs = phoenix.phoenix_cardiovascular(
        vasoactives=np.zeros(PRESSURES.size),
        lactate=np.zeros(PRESSURES.size),
        age=np.full(PRESSURES.size, month),
        map=PRESSURES,
    )

    assert [steps.score(float(pressure)) for pressure in PRESSURES] == theirs.tolist()
