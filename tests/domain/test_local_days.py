from datetime import UTC, date, datetime

import pytest

from app.domain.local_days import day_words, local_day, years_later


@pytest.mark.parametrize(
    ("zone", "day"),
    [
        ("UTC", date(2026, 3, 1)),
        ("Europe/Helsinki", date(2026, 3, 2)),
        ("America/New_York", date(2026, 3, 1)),
    ],
)
def test_a_day_is_that_of_the_zone(zone: str, day: date) -> None:
    assert local_day(datetime(2026, 3, 1, 22, 30, tzinfo=UTC), zone) == day


@pytest.mark.parametrize(
    ("day", "years", "later"),
    [
        (date(2026, 3, 1), 1, date(2027, 3, 1)),
        (date(2028, 2, 29), 1, date(2029, 2, 28)),
        (date(2028, 2, 29), 4, date(2032, 2, 29)),
    ],
)
def test_the_same_day_of_a_later_year(day: date, years: int, later: date) -> None:
    assert years_later(day, years) == later


def test_a_day_is_written_shortly() -> None:
    assert day_words(date(2026, 3, 1)) == "1 Mar 2026"
