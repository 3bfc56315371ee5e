from collections.abc import Callable
from dataclasses import replace
from datetime import date

import pytest

from app.domain.device_changes import (
    Changed,
    ChangeKind,
    brought_back,
    came_back,
    corrected,
    lent,
    moved,
    retired,
    sent_away,
    software_changed,
    used_as,
)
from app.domain.devices import Device, Loan, RegisterStatus
from app.domain.errors import NotNow, Refused

HERE = Device(1, "boat-3", "dunlin", "North", software="3.1")
AWAY = replace(HERE, status=RegisterStatus.AWAY)
RETIRED = replace(HERE, status=RegisterStatus.RETIRED)
LOAN = Loan("Tern Air", date(2026, 3, 1), date(2026, 4, 1))
LENT = replace(HERE, loan=LOAN)


@pytest.mark.parametrize(
    ("done", "kind", "cause"),
    [
        (moved(HERE, station="North", vehicle="Boat 3"), ChangeKind.MOVED, False),
        (moved(HERE, station="South", vehicle=""), ChangeKind.MOVED, True),
        (software_changed(HERE, "3.2"), ChangeKind.SOFTWARE, True),
        (sent_away(HERE), ChangeKind.SENT_AWAY, False),
        (came_back(AWAY, software="", spare=False), ChangeKind.CAME_BACK, True),
        (lent(HERE, LOAN), ChangeKind.BORROWED, True),
        (lent(LENT, replace(LOAN, until=None)), ChangeKind.LOAN_CHANGED, False),
        (lent(LENT, replace(LOAN, owner="Other")), ChangeKind.BORROWED, True),
        (lent(LENT, None), ChangeKind.LOAN_CHANGED, False),
        (used_as(HERE, spare=True), ChangeKind.MADE_SPARE, False),
        (retired(AWAY), ChangeKind.RETIRED, False),
        (brought_back(RETIRED), ChangeKind.BROUGHT_BACK, True),
        (corrected(RETIRED, serial="S1", note=""), ChangeKind.CORRECTED, False),
        (Changed(None, HERE, ChangeKind.ADDED), ChangeKind.ADDED, False),
    ],
)
def test_what_needs_a_blind_reading_afterwards(
    done: Changed, kind: ChangeKind, cause: bool
) -> None:
    assert (done.kind, done.cause) == (kind, cause)


NOT_NOW: dict[str, Callable[[], Changed]] = {
    "moved while away": lambda: moved(AWAY, station="South", vehicle=""),
    "software while away": lambda: software_changed(AWAY, "3.2"),
    "sent away twice": lambda: sent_away(AWAY),
    "used while away": lambda: used_as(AWAY, spare=True),
    "moved when retired": lambda: moved(RETIRED, station="South", vehicle=""),
    "sent away when retired": lambda: sent_away(RETIRED),
    "retired twice": lambda: retired(RETIRED),
    "lent when retired": lambda: lent(RETIRED, LOAN),
    "back though never away": lambda: came_back(HERE, software="", spare=False),
    "brought back though here": lambda: brought_back(HERE),
}


@pytest.mark.parametrize("what", NOT_NOW)
def test_what_cannot_happen_now(what: str) -> None:
    with pytest.raises(NotNow):
        NOT_NOW[what]()


def test_the_change_tells_from_and_to() -> None:
    done = moved(HERE, station="South", vehicle="Boat 3")

    assert done.changes == {"station": ("North", "South"), "vehicle": ("", "Boat 3")}


def test_back_from_service_the_software_stays_unless_it_is_told() -> None:
    same = came_back(AWAY, software="", spare=True).after
    newer = came_back(AWAY, software="3.2", spare=False).after

    assert (same.software, same.status) == ("3.1", RegisterStatus.SPARE)
    assert (newer.software, newer.status) == ("3.2", RegisterStatus.IN_SERVICE)


@pytest.mark.parametrize(("until", "fits"), [(28, False), (1, True), (2, True)])
def test_a_loan_ends_no_earlier_than_it_began(until: int, fits: bool) -> None:
    month = 2 if until == 28 else 3
    day = date(2026, month, until)

    if fits:
        assert Loan("Tern Air", date(2026, 3, 1), day).until == day
        return
    with pytest.raises(Refused):
        Loan("Tern Air", date(2026, 3, 1), day)
