from datetime import UTC, datetime, timedelta

from app.domain.devices import Device
from app.domain.shift_rounds import LOOKED_BACK, rounds

NOW = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
DAY, HOUR = timedelta(days=1), timedelta(hours=1)


def device(tag: str) -> Device:
    return Device(1, tag, "dunlin", "North")


def hours_ago(*hours: float) -> list[datetime]:
    return [NOW - timedelta(hours=one) for one in hours]


def test_those_without_a_check_come_first_and_then_the_longest_waiting() -> None:
    checks = {"a": hours_ago(1), "b": hours_ago(30), "d": hours_ago(50)}

    found = rounds([device(tag) for tag in "abcd"], checks, every=DAY, now=NOW)

    assert [one.device.tag for one in found.devices] == ["c", "d", "b", "a"]
    assert [one.device.tag for one in found.overdue] == ["c", "d", "b"]


def test_a_check_just_within_its_time_counts_and_one_at_its_end_does_not() -> None:
    checks = {"a": hours_ago(23.99), "b": hours_ago(24)}

    found = rounds([device("a"), device("b")], checks, every=DAY, now=NOW)

    assert {one.device.tag: one.overdue for one in found.devices} == {"a": False, "b": True}


def test_a_streak_ends_at_the_first_window_without_a_check() -> None:
    checks = {"a": hours_ago(2, 3, 26, 50, 98)}

    (one,) = rounds([device("a")], checks, every=DAY, now=NOW).devices

    assert one.windows == (True, True, True, False, True)
    assert one.streak == 3


def test_the_window_that_runs_is_not_held_against_a_streak() -> None:
    (one,) = rounds([device("a")], {"a": hours_ago(26, 50)}, every=DAY, now=NOW).devices

    assert (one.overdue, one.streak) == (True, 2)


def test_the_share_is_counted_from_the_first_check_of_the_agency() -> None:
    checks = {"a": hours_ago(1, 25, 49), "b": hours_ago(2)}

    found = rounds([device("a"), device("b")], checks, every=DAY, now=NOW)

    assert (found.done, found.wanted) == (4, 6)


def test_nothing_older_than_four_weeks_is_counted() -> None:
    checks = {"a": [NOW - LOOKED_BACK - 3 * DAY, NOW - HOUR]}

    found = rounds([device("a")], checks, every=DAY, now=NOW)

    assert (found.done, found.wanted) == (1, 28)


def test_before_the_first_check_every_device_is_overdue() -> None:
    found = rounds([device("a")], {}, every=DAY, now=NOW)

    assert (len(found.overdue), found.done, found.wanted) == (1, 0, 1)
