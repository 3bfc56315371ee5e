from datetime import UTC, datetime, timedelta

import pytest

from app.domain.changeover_jobs import (
    Beginning,
    DeviceJobs,
    Job,
    JobState,
    job,
    unchanged_presets,
    verified_at,
)
from app.domain.device_reports import StateRead
from app.domain.devices import Device
from app.domain.findings import Severity
from app.domain.fleet import Tally
from app.domain.known_devices import PresetNow, StateNow
from tests.domain.test_changeover import policy

BEGAN = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
DAY, INSTANT = timedelta(days=1), timedelta(microseconds=1)
INTERVAL = 90 * DAY
OFF = Severity.OFF_PROTOCOL


def known(
    read_at: datetime, tally: Tally | None = None, *, report: int = 7, waits: bool = False
) -> PresetNow:
    now = StateNow(report, read_at, Tally() if tally is None else tally, waits)
    return PresetNow({StateRead.POWER_ON: now})


def begins(now: datetime = BEGAN + DAY, *, not_blind: tuple[int, ...] = ()) -> Beginning:
    return Beginning(BEGAN, now, now - INTERVAL, not_blind)


def state(
    preset: PresetNow | None,
    begins_: Beginning | None = None,
    *,
    unchanged: bool = False,
    deviates: bool = False,
) -> JobState:
    return job("CHILD", preset, begins_ or begins(), unchanged=unchanged, deviates=deviates).state


@pytest.mark.parametrize(
    ("preset", "found"),
    [
        (None, JobState.NEVER_READ),
        (known(BEGAN - INSTANT), JobState.NOT_SINCE),
        (known(BEGAN), JobState.VERIFIED),
        (known(BEGAN + INSTANT), JobState.VERIFIED),
        (known(BEGAN, Tally(looser=1, worst=Severity.UNSAFE)), JobState.UNSAFE),
        (known(BEGAN, Tally(tighter=1, worst=OFF)), JobState.DIFFERS),
        (known(BEGAN, Tally(missing=1)), JobState.IN_PART),
        (known(BEGAN, Tally(missing=1), waits=True), JobState.WAITS),
        (known(BEGAN, Tally(looser=1, worst=Severity.UNSAFE), waits=True), JobState.UNSAFE),
    ],
)
def test_only_a_whole_conforming_reading_since_it_began_verifies(
    preset: PresetNow | None, found: JobState
) -> None:
    assert state(preset, unchanged=False) is found
    assert found.done is (found is JobState.VERIFIED)


@pytest.mark.parametrize(
    ("not_blind", "found"), [((7,), JobState.NOT_BLIND), ((8,), JobState.VERIFIED)]
)
def test_what_a_file_tells_does_not_verify(not_blind: tuple[int, ...], found: JobState) -> None:
    assert state(known(BEGAN), begins(not_blind=not_blind)) is found


@pytest.mark.parametrize(
    ("unchanged", "deviates", "tally", "found"),
    [
        (True, False, Tally(), JobState.HOLDS),
        (False, False, Tally(), JobState.NOT_SINCE),
        (True, True, Tally(), JobState.NOT_SINCE),
        (True, False, Tally(missing=1), JobState.NOT_SINCE),
        (True, False, Tally(tighter=1, worst=OFF), JobState.NOT_SINCE),
    ],
)
def test_a_preset_on_which_nothing_changes_holds_already_if_it_conformed(
    unchanged: bool, deviates: bool, tally: Tally, found: JobState
) -> None:
    before = known(BEGAN - DAY, tally)

    assert state(before, unchanged=unchanged, deviates=deviates) is found


@pytest.mark.parametrize(
    ("age", "found"),
    [
        (INTERVAL - INSTANT, JobState.HOLDS),
        (INTERVAL, JobState.HOLDS),
        (INTERVAL + INSTANT, JobState.NOT_SINCE),
    ],
)
def test_it_does_not_hold_for_ever(age: timedelta, found: JobState) -> None:
    now = BEGAN + DAY

    assert state(known(now - age), begins(now), unchanged=True) is found


def test_before_it_begins_nothing_is_verified() -> None:
    ahead = begins(BEGAN - DAY)

    assert state(known(BEGAN - 2 * DAY), ahead) is JobState.NOT_SINCE
    assert state(known(BEGAN - 2 * DAY), ahead, unchanged=True) is JobState.HOLDS


def test_a_preset_is_unchanged_where_a_device_would_hold_the_same() -> None:
    before = policy({"heart-rate-low": 70}, {"heart-rate-low": 50})
    after = policy({"heart-rate-low": 71}, {"heart-rate-low": 50})

    assert unchanged_presets(before, after, "") == {"adult"}
    assert unchanged_presets(before, before, "") == {"adult", "child"}
    assert unchanged_presets(None, after, "") == frozenset()


def test_an_alarm_that_is_new_changes_the_preset() -> None:
    before = policy({"heart-rate-low": 70}, {"heart-rate-low": 50})
    after = policy({"heart-rate-low": 70, "heart-rate-high": 150}, {"heart-rate-low": 50})

    assert unchanged_presets(before, after, "") == {"adult"}
    assert unchanged_presets(after, before, "") == {"adult"}


VERIFIED = Job("A", JobState.VERIFIED, 1, BEGAN + 40 * DAY)
HOLDS = Job("B", JobState.HOLDS, 2, BEGAN - DAY)


@pytest.mark.parametrize(
    ("jobs", "first", "found"),
    [
        ((VERIFIED,), {"A": BEGAN + DAY}, BEGAN + DAY),
        ((VERIFIED, HOLDS), {"A": BEGAN + DAY}, BEGAN + DAY),
        ((HOLDS,), {}, BEGAN),
        (
            (VERIFIED, Job("C", JobState.VERIFIED, 3, BEGAN)),
            {"A": BEGAN, "C": BEGAN + DAY},
            BEGAN + DAY,
        ),
        ((VERIFIED, Job("C", JobState.IN_PART, 3, BEGAN)), {"A": BEGAN}, None),
        ((), {}, None),
    ],
)
def test_a_device_is_verified_with_its_last_preset_and_reading_again_moves_nothing(
    jobs: tuple[Job, ...], first: dict[str, datetime], found: datetime | None
) -> None:
    assert verified_at(jobs, first, BEGAN) == found


def test_a_device_shows_what_needs_somebody_first() -> None:
    device = Device(1, "boat-3", "dunlin", "North")

    told = DeviceJobs(device, (VERIFIED, HOLDS, Job("C", JobState.UNSAFE, 3, BEGAN)))

    assert (told.worst, told.done, told.nothing_to_do) == (JobState.UNSAFE, False, False)
    assert DeviceJobs(device, (HOLDS,)).nothing_to_do
    assert DeviceJobs(device, ()).worst is None
    assert not DeviceJobs(device, ()).done
