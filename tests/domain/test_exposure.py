from datetime import datetime, timedelta

import pytest

from app.domain.exposure import Exposure
from tests.builders import DAY, HOUR, NOW

SINCE = NOW - 12 * DAY


@pytest.mark.parametrize(
    ("until", "days"),
    [
        (NOW, 12),
        (NOW + timedelta(microseconds=1), 13),
        (NOW - timedelta(microseconds=1), 12),
        (SINCE + HOUR, 1),
        (SINCE, 1),
    ],
)
def test_begun_days_count(until: datetime, days: int) -> None:
    assert Exposure(NOW, SINCE, 1, until).days(NOW + 99 * DAY) == days


def test_it_goes_on_until_it_is_contained() -> None:
    going_on = Exposure(NOW, SINCE, 1)

    assert going_on.days(NOW + DAY) == 13
    assert going_on.words(NOW + DAY, "UTC") == (
        "Nobody knows since 18 Feb 2026, and it goes on: 13 days."
    )


def test_it_tells_its_days() -> None:
    told = Exposure(NOW, SINCE, 1, NOW).words(NOW, "UTC")

    assert told == "Nobody knows since 18 Feb 2026, until 2 Mar 2026: 12 days."


def test_where_it_was_never_right_nobody_knows_since_when() -> None:
    never = Exposure(NOW, None, None, NOW)

    assert never.days(NOW) is None
    assert "never read right before 2 Mar 2026" in never.words(NOW, "UTC")
