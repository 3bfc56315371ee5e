"""A shift check from a phone that was shown what the device holds: it proves nothing."""

from datetime import timedelta
from typing import Any

import pytest
from sqlmodel import Session

from app.domain.device_reports import Origin
from app.domain.known_devices import DeviceStatus
from app.domain.people import Role
from app.domain.shift_checks import SEEN_FOR, Result, seen_before
from app.lookups import fleet
from app.lookups.shift_checks import check_brought, checks_page
from app.storage import findings, reports
from app.storage.database import Database
from tests.builders import (
    HOUR,
    NOW,
    PRESET,
    a_device,
    a_person,
    a_report,
    a_signed_revision,
    as_signed,
    limit,
)
from tests.shift_checks import a_check, a_new_check, at_shift, queued
from tests.storage.ledgers import bodies

SLIGHT, GRAVE = limit(150), limit(200)
SECOND = timedelta(seconds=1)


@pytest.fixture
def tx(database: Database) -> Any:
    with database.writing() as tx:
        a_signed_revision(tx)
        a_device(tx)
        for role in (Role.FLEET_MANAGER, Role.TECHNICIAN, Role.CREW):
            a_person(tx, role)
        yield tx


def device(tx: Session) -> fleet.DevicePage:
    return fleet.device(tx, agency_id=a_person(tx).agency_id, tag="boat-3", now=NOW)


def result(tx: Session, number: int) -> Result:
    agency_id = a_person(tx).agency_id
    return check_brought(tx, agency_id=agency_id, number=number, now=NOW).result


@pytest.mark.parametrize(
    ("opened", "seen"),
    [
        (None, False),
        (NOW - SEEN_FOR - SECOND, False),
        (NOW - SEEN_FOR, True),
        (NOW, True),
        (NOW + HOUR, True),  # the clock went back
    ],
)
def test_an_hour_is_how_long_values_stay_in_mind(opened: Any, seen: bool) -> None:
    assert seen_before(opened, NOW) is seen


def test_it_is_a_check_of_the_shift_and_told_for_what_it_is(tx: Session) -> None:
    check = a_check(tx, seen=True)

    assert check.seen
    assert result(tx, check.id) is Result.SEEN
    rounds = checks_page(tx, agency_id=a_person(tx).agency_id, now=NOW + HOUR).rounds
    assert rounds.overdue == ()
    assert bodies(tx)[-1]["about"]["values_seen"] is True
    (report,) = device(tx).reports
    assert "the values were seen before" in report.report.read_by


def test_it_never_verifies_where_a_blind_one_does(tx: Session) -> None:
    def verifying() -> Any:
        return reports.latest_counting(
            tx,
            agency_id=a_person(tx).agency_id,
            device="boat-3",
            preset=PRESET,
            after=NOW - HOUR,
            not_by=a_person(tx, Role.TECHNICIAN).id,
        )

    a_check(tx, seen=True)
    assert verifying() is None
    a_check(tx, now=NOW + HOUR)
    assert verifying().origin is Origin.CREW


def test_what_is_known_of_the_device_stays_as_it_was(tx: Session) -> None:
    a_report(tx, as_signed(heart_rate_high=GRAVE))
    before = device(tx)

    a_check(tx, seen=True, now=NOW + HOUR)

    after = device(tx)
    assert after.status is before.status is DeviceStatus.UNSAFE
    assert after.now == before.now
    assert after.findings == before.findings


@pytest.mark.parametrize(("found", "told"), [(SLIGHT, Result.DIFFERS), (GRAVE, Result.UNSAFE)])
def test_what_it_finds_astray_counts_at_once_and_nobody_looks_again(
    tx: Session, found: Any, told: Result
) -> None:
    readings = at_shift(heart_rate_high=found)

    check = a_check(tx, a_new_check(readings, seen=True))

    assert result(tx, check.id) is told
    (opened,) = findings.findings_not_closed(tx, device(tx).device)
    assert opened.alarm == "heart-rate-high"


def test_the_same_check_again_is_the_same_whatever_the_phone_still_knows(tx: Session) -> None:
    locked = queued(NOW - HOUR, NOW)
    first = a_new_check(queued=locked, seen=True)
    again = a_new_check(queued=locked, key=first.key)

    assert a_check(tx, first) == a_check(tx, again)
