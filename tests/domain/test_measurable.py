from dataclasses import replace

import numpy as np
import pytest

from app.domain.errors import Refused
from app.domain.measurable import check_measurable
from app.domain.trends import Trends
from tests.recorded import trends


def with_first(vital_sign: str, *first: float) -> Trends:
    values = np.full(trends().rows, np.nan)
    values[: len(first)] = first
    return replace(trends(), values={vital_sign: values})


@pytest.mark.parametrize(
    ("vital_sign", "value"),
    [("spo2", 0), ("spo2", 100), ("heart-rate", 0), ("heart-rate", 1000), ("temperature", 36.6)],
)
def test_what_a_monitor_may_show_is_taken(vital_sign: str, value: float) -> None:
    check_measurable(with_first(vital_sign, value))


@pytest.mark.parametrize(
    ("vital_sign", "value"),
    [("spo2", -1), ("spo2", 127), ("heart-rate", -0.5), ("heart-rate", 65535), ("etco2", 1000.5)],
)
def test_marks_of_a_missing_value_are_refused_with_their_row(vital_sign: str, value: float) -> None:
    with pytest.raises(Refused) as refused:
        check_measurable(with_first(vital_sign, np.nan, value, 5, value))

    (fault,) = refused.value.faults
    assert (fault.column, fault.value) == (vital_sign, value)
    assert "(row 2 of the values, and 1 more like it)" in fault.reason
    assert "leave the cell empty where nothing was measured" in fault.reason
