from datetime import date, timedelta
from typing import Any

import pytest

from app.domain.acceptances import Acceptance
from app.domain.agency_choices import AgencyChoices
from app.domain.comparison import Direction
from app.domain.errors import NotNow
from app.domain.finding_life import (
    LIFE,
    LIFE_OF_USE,
    Audible,
    FindingKind,
    FindingStatus,
    Stamp,
    StoredFinding,
    check_step,
    due_times,
    is_recurrence,
    steps_from,
)
from app.domain.findings import Severity
from tests.builders import DAY, HOUR, NOW

LEGAL = {
    ("open", "contained"),
    ("contained", "corrected"),
    ("corrected", "verified"),
    ("verified", "closed"),
}
UNSAFE, OFF_PROTOCOL, NOTE = Severity.UNSAFE, Severity.OFF_PROTOCOL, Severity.NOTE
OPEN, CONTAINED, CORRECTED, VERIFIED, CLOSED = FindingStatus
MICROSECOND = timedelta(microseconds=1)


def a_finding(**instead: Any) -> StoredFinding:
    told: dict[str, Any] = {
        "id": 1,
        "device": "boat-3",
        "station": "North",
        "model": "dunlin",
        "preset": "preschool",
        "alarm": "heart-rate-high",
        "direction": Direction.LOOSER,
        "severity": UNSAFE,
        "status": OPEN,
        "opened_at": NOW,
        "opened_by": 1,
        "report": 1,
        "note": "",
        "contain_due_at": NOW + HOUR,
        "verify_due_at": NOW + DAY,
    }
    return StoredFinding(**(told | instead))


def an_acceptance(*, days: int) -> Acceptance:
    until = date(2026, 3, 2) + timedelta(days=days)
    return Acceptance("Dana", NOW, until, NOW + days * DAY, "next revision")


@pytest.mark.parametrize("to", FindingStatus)
@pytest.mark.parametrize("status", FindingStatus)
def test_only_the_steps_of_the_table_are_allowed(status: FindingStatus, to: FindingStatus) -> None:
    if (status.value, to.value) in LEGAL:
        assert check_step(status, to) is LIFE[status][to]
    else:
        with pytest.raises(NotNow):
            check_step(status, to)


@pytest.mark.parametrize("to", FindingStatus)
@pytest.mark.parametrize("status", FindingStatus)
def test_what_a_crew_set_is_spoken_about_and_closed(
    status: FindingStatus, to: FindingStatus
) -> None:
    if (status, to) == (OPEN, CLOSED):
        assert check_step(status, to, FindingKind.USE) is LIFE_OF_USE[OPEN][CLOSED]
    else:
        with pytest.raises(NotNow):
            check_step(status, to, FindingKind.USE)


def test_from_a_state_that_its_life_does_not_know_nothing_follows() -> None:
    assert steps_from(CORRECTED, FindingKind.USE) == {}


@pytest.mark.parametrize(
    ("severity", "direction", "contain", "verify"),
    [
        (UNSAFE, Direction.LOOSER, timedelta(hours=1), timedelta(hours=24)),
        (UNSAFE, Direction.OTHER, timedelta(hours=1), timedelta(hours=24)),
        (OFF_PROTOCOL, Direction.LOOSER, timedelta(hours=12), timedelta(days=7)),
        (OFF_PROTOCOL, Direction.SWITCHED_OFF, timedelta(hours=12), timedelta(days=7)),
        (OFF_PROTOCOL, Direction.TIGHTER, timedelta(days=30), timedelta(days=30)),
        (OFF_PROTOCOL, Direction.SWITCHED_ON, timedelta(days=30), timedelta(days=30)),
        (OFF_PROTOCOL, Direction.OTHER, timedelta(days=30), timedelta(days=30)),
        (NOTE, Direction.LOOSER, timedelta(days=30), timedelta(days=30)),
    ],
)
def test_what_can_hurt_sooner_is_due_sooner(
    severity: Severity, direction: Direction, contain: timedelta, verify: timedelta
) -> None:
    times = due_times(severity, direction)

    assert (times.contain, times.verify) == (contain, verify)


@pytest.mark.parametrize(
    ("severity", "direction", "contain", "verify"),
    [
        (UNSAFE, Direction.LOOSER, 2, 30),
        (OFF_PROTOCOL, Direction.LOOSER, 5, 50),
        (OFF_PROTOCOL, Direction.TIGHTER, 70, 70),
    ],
)
def test_an_agency_chooses_what_is_due_when(
    severity: Severity, direction: Direction, contain: int, verify: int
) -> None:
    choices = AgencyChoices(
        unsafe_contain_hours=2,
        unsafe_verify_hours=30,
        looser_contain_hours=5,
        looser_verify_hours=50,
        tighter_verify_hours=70,
    )

    times = due_times(severity, direction, choices)

    assert (times.contain, times.verify) == (contain * HOUR, verify * HOUR)


@pytest.mark.parametrize(
    ("status", "due"),
    [
        (OPEN, NOW + HOUR),
        (CONTAINED, NOW + DAY),
        (CORRECTED, NOW + DAY),
        (VERIFIED, None),
        (CLOSED, None),
    ],
)
def test_the_next_step_is_due(status: FindingStatus, due: object) -> None:
    assert a_finding(status=status).due_at == due


@pytest.mark.parametrize(
    ("later", "late"), [(HOUR - MICROSECOND, False), (HOUR, False), (HOUR + MICROSECOND, True)]
)
def test_it_is_overdue_after_its_time(later: timedelta, late: bool) -> None:
    assert a_finding().overdue(NOW + later) is late


class TestAccepted:
    @pytest.mark.parametrize(
        ("later", "stands"),
        [(2 * DAY - MICROSECOND, True), (2 * DAY, False), (2 * DAY + MICROSECOND, False)],
    )
    def test_it_ends_by_the_clock(self, later: timedelta, stands: bool) -> None:
        found = a_finding(acceptance=an_acceptance(days=2))

        assert (found.accepted(NOW + later) is not None) is stands

    @pytest.mark.parametrize(
        ("status", "stands"),
        [(OPEN, True), (CONTAINED, True), (CORRECTED, True), (VERIFIED, False), (CLOSED, False)],
    )
    def test_what_is_verified_needs_none(self, status: FindingStatus, stands: bool) -> None:
        found = a_finding(status=status, acceptance=an_acceptance(days=2))

        assert (found.accepted(NOW) is not None) is stands

    @pytest.mark.parametrize(
        ("later", "late"), [(HOUR + DAY, False), (2 * DAY, False), (2 * DAY + MICROSECOND, True)]
    )
    def test_nothing_is_due_before_it_ends(self, later: timedelta, late: bool) -> None:
        found = a_finding(acceptance=an_acceptance(days=2))

        assert found.overdue(NOW + later) is late


@pytest.mark.parametrize(
    ("severity", "kind", "heard", "asks"),
    [
        (UNSAFE, FindingKind.HELD, None, True),
        (UNSAFE, FindingKind.HELD, Audible.NOT_TESTED, False),
        (OFF_PROTOCOL, FindingKind.HELD, None, False),
        (UNSAFE, FindingKind.USE, None, False),
    ],
)
def test_only_what_was_unsafe_must_be_heard(
    severity: Severity, kind: FindingKind, heard: Audible | None, asks: bool
) -> None:
    found = a_finding(severity=severity, kind=kind, heard=heard, seen=heard)

    assert found.asks_for_seat is asks


@pytest.mark.parametrize(
    ("corrected", "read", "recurs"),
    [
        (None, NOW + DAY, False),
        (NOW, NOW - MICROSECOND, False),
        (NOW, NOW, False),
        (NOW, NOW + MICROSECOND, True),
    ],
)
def test_what_is_read_after_the_correction_recurs(corrected: Any, read: Any, recurs: bool) -> None:
    stamp = None if corrected is None else Stamp(1, "Tess", corrected)

    assert is_recurrence(a_finding(corrected=stamp), read) is recurs
