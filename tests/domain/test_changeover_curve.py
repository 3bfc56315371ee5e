from datetime import UTC, datetime, timedelta

import pytest

from app.domain.changeover_curve import ChangeoverCurve, changeover_curve

BEGAN = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
DAY, INSTANT = timedelta(days=1), timedelta(microseconds=1)


def curve(*days: float | None, now: datetime = BEGAN + 40 * DAY) -> ChangeoverCurve:
    verified = [None if day is None else BEGAN + day * DAY for day in days]
    return changeover_curve(verified, began=BEGAN, now=now, most_days=7, all_days=30)


def test_it_rises_where_devices_are_verified_and_ends_today() -> None:
    found = curve(0, 0.5, 3, None, now=BEGAN + 5 * DAY)

    assert [(point.days, point.verified) for point in found.points] == [(1, 2), (4, 3), (6, 3)]
    assert found.today is not None
    assert found.today.share == 0.75
    assert found.devices == 4


@pytest.mark.parametrize(
    ("at", "now", "words"),
    [
        (7 * DAY - INSTANT, 7 * DAY, "80 % in 7 days: reached in 7"),
        (7 * DAY, 7 * DAY, "80 % in 7 days: reached in 8, late"),
        (7 * DAY + INSTANT, 9 * DAY, "80 % in 7 days: reached in 8, late"),
        (None, 7 * DAY - INSTANT, "80 % in 7 days: not yet"),
        (None, 7 * DAY, "80 % in 7 days: missed"),
    ],
)
def test_the_aim_is_reached_within_its_days_or_missed(
    at: timedelta | None, now: timedelta, words: str
) -> None:
    verified = [None if at is None else BEGAN + at]

    found = changeover_curve(verified, began=BEGAN, now=BEGAN + now, most_days=7, all_days=30)

    assert found.targets[0].words == words


@pytest.mark.parametrize(("verified", "reached"), [(3, None), (4, 1), (5, 1)])
def test_four_of_five_are_most(verified: int, reached: int | None) -> None:
    found = curve(*([0.0] * verified), *([None] * (5 - verified)), now=BEGAN + DAY)

    assert found.targets[0].reached == reached
    assert found.targets[1].reached == (1 if verified == 5 else None)


@pytest.mark.parametrize(("now", "missed"), [(30 * DAY - INSTANT, False), (30 * DAY, True)])
def test_all_of_them_are_wanted_by_the_end(now: timedelta, missed: bool) -> None:
    assert curve(0, None, now=BEGAN + now).targets[1].missed is missed


def test_before_it_begins_there_is_no_point() -> None:
    found = curve(None, now=BEGAN - DAY)

    assert (found.points, found.today) == ((), None)
    assert [target.missed for target in found.targets] == [False, False]


def test_without_a_device_nothing_was_reached() -> None:
    found = curve()

    assert found.points == ()
    assert [target.reached for target in found.targets] == [None, None]
