import struct
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.domain.alarm_conditions import ALARM_CONDITIONS
from app.domain.device_reports import (
    CouldNotRead,
    FoundNotFitted,
    FoundOff,
    FoundOn,
    FoundText,
    NotRead,
    Reading,
)
from app.domain.fleet import Column
from app.domain.packing import pack, unpack
from app.domain.settings_of_alarms import Priority

HR_LOW = ("CHILD", "heart-rate-low")

decimals = st.decimals(allow_nan=False, allow_infinity=False, places=2, min_value=-99999)
found_on = st.builds(
    FoundOn,
    limit=st.none() | decimals,
    unit=st.none() | st.sampled_from(["kPa", "/min"]),
    priority=st.none() | st.sampled_from(Priority),
    delay_s=st.none() | st.decimals(min_value=0, max_value=600, places=1),
    latching=st.none() | st.booleans(),
)
plain = st.sampled_from([FoundOff(), FoundNotFitted(), NotRead()])
words = st.builds(CouldNotRead, st.text()) | st.builds(FoundText, st.text())
readings = found_on | plain | words
columns = st.tuples(st.text(min_size=1, max_size=9), st.sampled_from(list(ALARM_CONDITIONS)))


@given(st.dictionaries(columns, readings, max_size=40))
def test_whatever_was_found_comes_back(found: dict[Column, Reading]) -> None:
    layout = sorted(found)

    assert unpack(layout, pack(layout, found)) == found


@pytest.mark.parametrize(
    ("alarm", "limit", "code"),
    [
        ("heart-rate-low", "90", 90),
        ("heart-rate-low", "90.0", 90),
        ("temperature-high", "38.5", 385),
        ("heart-rate-low.deep", "60", 60),
        ("apnoea", "20", 20),
        ("heart-rate-low", "-1", -1),
        ("heart-rate-low", "32767", 32767),
        ("heart-rate-low", "-32761", -32761),
        ("etco2-high", "60", 600),  # mmHg or kPa, as the device shows it: both fit
        ("etco2-high", "8.1", 81),
        ("nibp-systolic-low", "300", 3000),
        ("longest-pause-s", "120", 120),
    ],
)
def test_a_limit_is_kept_in_steps_of_its_alarm(alarm: str, limit: str, code: int) -> None:
    column = ("CHILD", alarm)

    packed = pack([column], {column: FoundOn(Decimal(limit))})

    assert packed.vals == struct.pack("<h", code)
    assert packed.extras == "{}"


@pytest.mark.parametrize("limit", ["90.5", "32768", "-32762", "-32768", "1E+30"])
def test_a_limit_that_is_no_step_or_too_large_is_kept_as_written(limit: str) -> None:
    found = {HR_LOW: FoundOn(Decimal(limit))}

    packed = pack([HR_LOW], found)

    assert '"limit"' in packed.extras
    assert unpack([HR_LOW], packed) == found


def test_a_column_without_a_reading_was_not_read() -> None:
    assert unpack([HR_LOW], pack([HR_LOW], {})) == {HR_LOW: NotRead()}


def test_two_bytes_a_column_when_nothing_is_special() -> None:
    layout = [("CHILD", alarm) for alarm in ALARM_CONDITIONS]

    packed = pack(layout, dict.fromkeys(layout, FoundOff()))

    assert len(packed.vals) == 2 * len(layout)
    assert packed.extras == "{}"
