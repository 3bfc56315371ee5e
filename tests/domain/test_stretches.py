from datetime import UTC, datetime, timedelta

import pytest

from app.domain.known_devices import DeviceStatus
from app.domain.stretches import Stretch

NOW = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
DAY = timedelta(days=1)


@pytest.mark.parametrize(
    ("stretch", "chosen"),
    [
        (Stretch(), False),
        (Stretch("North"), True),
        (Stretch(start=0), True),
        (Stretch(end=0), True),
        (Stretch(status=DeviceStatus.HOLDS), True),
        (Stretch(overdue=True), True),
        (Stretch(never=True), True),
    ],
)
def test_whatever_narrows_it_makes_a_job_list(stretch: Stretch, chosen: bool) -> None:
    assert stretch.chosen is chosen


def test_its_days_are_whole_and_both_are_included() -> None:
    stretch = Stretch(start=3, end=5)

    assert stretch.read_by(NOW) == NOW - 3 * DAY
    assert stretch.read_after(NOW) == NOW - 6 * DAY


def test_from_today_on_and_without_an_end_it_leaves_nothing_out() -> None:
    assert Stretch(start=0).read_by(NOW) is None
    assert Stretch().read_after(NOW) is None
