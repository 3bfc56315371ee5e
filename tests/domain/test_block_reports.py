"""Reports kept in columns are the same reports when they are asked for."""

from array import array
from datetime import UTC, datetime, timedelta, timezone

import pytest

from app.domain.block_reports import KEY_BYTES, BlockReports, How, moment_of, ticks
from app.domain.device_reports import FoundOff, FoundOn, StateRead, Told
from app.domain.reading_sets import cell_of, reading_set
from tests.builders import NOW

TOLD = Told(reader="Lou", minutes_off=3)
HOWS = [How("CHILD", StateRead.POWER_ON, Told()), How("ADULT", StateRead.IN_USE, TOLD)]
SETS = [
    reading_set("CHILD", [cell_of("heart-rate-low", FoundOn()), cell_of("spo2-low", FoundOff())]),
    reading_set("ADULT", [cell_of("spo2-low", FoundOff())]),
]


def some_reports() -> BlockReports:
    """The last was read first; the second has rows in two places."""
    reports = BlockReports(["boat-4", "boat-3", "boat-9"], HOWS)
    reports.sets = SETS
    for number, (device, hours) in enumerate(((0, 2), (1, 1), (1, 0))):
        reports.device.append(device)
        reports.how.append(number % 2)
        reports.found.append(number % 2)
        reports.at.append(ticks(NOW + timedelta(hours=hours)))
        reports.first.append(10 * number)
        reports.count.append(2)
        reports.keys += bytes([number]) * KEY_BYTES
    reports.scattered[1] = array("I", (10, 1, 40, 1))
    return reports


def test_a_report_is_as_it_came() -> None:
    first, second, third = some_reports()

    assert first.place == ("boat-4", NOW + timedelta(hours=2), StateRead.POWER_ON, "CHILD")
    assert (first.told, first.found, first.rows) == (Told(), SETS[0], (0, 2))
    assert (second.told, second.found, second.rows) == (TOLD, SETS[1], (10, 1, 40, 1))
    assert second.place == ("boat-3", NOW + timedelta(hours=1), StateRead.IN_USE, "ADULT")
    assert third.key == "file:" + "02" * KEY_BYTES


def test_they_are_counted() -> None:
    reports = some_reports()

    assert len(reports) == 3
    assert reports.readings == 2 + 1 + 2
    assert reports.tags == ["boat-3", "boat-4"]
    assert list(reports.in_time()) == [2, 1, 0]


@pytest.mark.parametrize("numbers", [[], [1], [0, 2], [0, 1, 2]])
def test_those_that_are_kept_stay_the_same(numbers: list[int]) -> None:
    reports = some_reports()
    every = list(reports)

    kept = reports.kept(numbers)

    assert list(kept) == [every[number] for number in numbers]
    assert kept.readings == sum(len(every[number].found.cells) for number in numbers)
    assert list(reports) == every


def test_of_the_same_moment_the_first_in_the_file_comes_first() -> None:
    reports = some_reports()
    reports.at = array("q", [5, 3, 5])

    assert list(reports.in_time()) == [1, 0, 2]


@pytest.mark.parametrize(
    "at",
    [
        datetime(2026, 3, 2, 9, 0, 0, 123_456, tzinfo=UTC),
        datetime(1, 1, 1, tzinfo=UTC),
        datetime(1969, 12, 31, 23, 59, 59, 999_999, tzinfo=UTC),
        datetime(2026, 3, 2, 9, tzinfo=timezone(timedelta(hours=2))),
    ],
)
def test_a_moment_comes_back_to_the_microsecond(at: datetime) -> None:
    assert moment_of(ticks(at)) == at
    assert moment_of(ticks(at)).tzinfo is UTC
