"""Of a device of which nothing was known, all of its first reports at once."""

from datetime import datetime, timedelta
from typing import NamedTuple

import pytest

from app.domain.comparison import Deviation, Direction
from app.domain.device_reports import FoundOff, FoundOn, Reading, StateRead
from app.domain.findings import Severity
from app.domain.fleet import Judgement
from app.domain.known_devices import DeviceNow, known_after, known_first
from tests.builders import NOW


class Told(NamedTuple):
    id: int
    preset: str
    state_read: StateRead
    read_at: datetime
    revision: int | None
    readings: dict[str, Reading]


def told(
    number: int, preset: str, state: StateRead = StateRead.POWER_ON, *, hours: int = 0
) -> tuple[Told, Judgement]:
    readings: dict[str, Reading] = {"heart-rate-low": FoundOn(), "spo2-low": FoundOff()}
    astray = Deviation("spo2-low", None, FoundOff(), Direction.SWITCHED_OFF, Severity.UNSAFE)
    report = Told(number, preset, state, NOW + timedelta(hours=hours), 3 + hours, readings)
    return report, Judgement((astray,) if number % 2 else (), ("CHILD", "ADULT"), number)


def one_by_one(reports: list[tuple[Told, Judgement]]) -> DeviceNow | None:
    known: DeviceNow | None = None
    for report, judgement in reports:
        known = known_after(known, report, judgement, lambda _: {})
    return known


@pytest.mark.parametrize(
    "reports",
    [
        [told(1, "CHILD")],
        [told(2, "CHILD"), told(1, "ADULT"), told(3, "*")],
        [told(1, "ADULT"), told(4, "CHILD", StateRead.AFTER_CATEGORY, hours=2)],
    ],
)
def test_it_is_known_as_after_one_and_the_other(reports: list[tuple[Told, Judgement]]) -> None:
    assert known_first(reports) == one_by_one(reports)


@pytest.mark.parametrize(
    "reports",
    [
        [told(1, "CHILD"), told(2, "CHILD", hours=1)],
        [told(1, "CHILD"), told(2, "CHILD", StateRead.AFTER_CATEGORY)],
        [told(1, "CHILD"), told(2, "ADULT", StateRead.IN_USE)],
        [(told(1, "CHILD")[0], Judgement(counts=False))],
    ],
)
def test_what_hangs_on_each_other_is_left_alone(reports: list[tuple[Told, Judgement]]) -> None:
    assert known_first(reports) is None
