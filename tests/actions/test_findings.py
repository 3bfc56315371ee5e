from datetime import datetime, timedelta
from typing import Any

import pytest
from sqlmodel import Session

from app.actions.agency_choices import choose
from app.actions.findings import move_finding
from app.domain.agency_choices import AgencyChoices
from app.domain.device_reports import CouldNotRead, Origin, StateRead
from app.domain.errors import NotAllowed, NotFound, NotNow, Refused
from app.domain.finding_causes import CauseCode
from app.domain.finding_life import Audible, FindingStatus, StoredFinding
from app.domain.finding_steps import NOTHING, StepDetails
from app.domain.findings import Severity
from app.domain.people import Person, Role
from app.lookups.findings import findings
from app.storage.database import Database
from app.storage.finding_events import events_of
from tests.builders import (
    DAY,
    HOUR,
    MINUTE,
    NOW,
    a_device,
    a_document,
    a_person,
    a_report,
    a_signed_revision,
    as_signed,
    limit,
    olu,
)
from tests.storage.ledgers import bodies

OPEN, CONTAINED, CORRECTED = FindingStatus.OPEN, FindingStatus.CONTAINED, FindingStatus.CORRECTED
VERIFIED, CLOSED = FindingStatus.VERIFIED, FindingStatus.CLOSED
CLOSING = StepDetails(CauseCode.REVERTED, Audible.YES, Audible.YES)
STRAYED = as_signed(heart_rate_high=limit(200))


def move(
    tx: Session,
    found: StoredFinding,
    to: FindingStatus,
    by: Person,
    *,
    now: datetime = NOW,
    note: str = "",
    details: StepDetails = NOTHING,
) -> StoredFinding:
    return move_finding(tx, finding_id=found.id, to=to, by=by, now=now, note=note, details=details)


def a_finding(
    tx: Session, status: FindingStatus = OPEN, *, document: dict[str, Any] | None = None
) -> StoredFinding:
    """Femi finds and contains it, Tess corrects it an hour later, Femi reads it again."""
    a_signed_revision(tx, document=document)
    a_device(tx)
    a_report(tx, STRAYED)
    femi, tess = a_person(tx, Role.FLEET_MANAGER), a_person(tx, Role.TECHNICIAN)
    found = findings(tx, agency_id=femi.agency_id, now=NOW)[0].finding
    steps: list[tuple[FindingStatus, dict[str, Any]]] = [
        (CONTAINED, {"by": femi, "note": "taken off the boat"}),
        (CORRECTED, {"by": tess, "note": "set to 170; reset after battery swap"}),
        (VERIFIED, {"by": femi}),
        (CLOSED, {"by": femi, "details": CLOSING}),
    ]
    for to, how in steps:
        if found.status is status:
            break
        if to is VERIFIED:
            a_report(tx, read_at=NOW + 2 * HOUR)
        found = move(tx, found, to, **how, now=NOW + (HOUR if to is CORRECTED else 3 * HOUR))
    return found


def test_a_finding_goes_from_open_to_closed(database: Database) -> None:
    with database.writing() as tx:
        found = a_finding(tx, CLOSED)

        assert found.status is CLOSED
        assert found.corrected is not None
        assert (found.corrected.name, found.corrected.at) == ("Tess", NOW + HOUR)
        assert [stamp and stamp.name for stamp in (found.contained, found.verified)] == [
            "Femi",
            "Femi",
        ]
        assert found.note == "set to 170; reset after battery swap"
        assert found.due_at is None
        assert [body["did"] for body in bodies(tx)][-5:] == [
            "contain a finding",
            "correct a finding",
            "read a device",
            "verify a finding",
            "close a finding",
        ]


@pytest.mark.parametrize(
    ("status", "to"),
    [
        (OPEN, CORRECTED),
        (OPEN, VERIFIED),
        (OPEN, CLOSED),
        (CONTAINED, OPEN),
        (CONTAINED, VERIFIED),
        (CORRECTED, CLOSED),
        (CLOSED, OPEN),
    ],
)
def test_no_step_is_left_out(
    sqlite_database: Database, status: FindingStatus, to: FindingStatus
) -> None:
    with sqlite_database.writing() as tx:
        found = a_finding(tx, status)

        with pytest.raises(NotNow):
            move(tx, found, to, a_person(tx, Role.FLEET_MANAGER), note="x")


@pytest.mark.parametrize(("status", "to"), [(OPEN, CONTAINED), (CONTAINED, CORRECTED)])
def test_containing_and_correcting_say_how(
    sqlite_database: Database, status: FindingStatus, to: FindingStatus
) -> None:
    with sqlite_database.writing() as tx:
        found = a_finding(tx, status)

        with pytest.raises(Refused):
            move(tx, found, to, a_person(tx, Role.FLEET_MANAGER), note=" ")


class TestVerifying:
    def test_it_takes_a_later_reading_by_another_person(self, database: Database) -> None:
        with database.writing() as tx:
            found = a_finding(tx, CORRECTED)
            femi, tess = a_person(tx, Role.FLEET_MANAGER), a_person(tx, Role.TECHNICIAN)
            with pytest.raises(NotNow, match="Nobody but Tess"):
                move(tx, found, VERIFIED, femi)
            a_report(tx, read_at=NOW + HOUR - MINUTE)
            a_report(tx, by=tess, read_at=NOW + 2 * HOUR)
            with pytest.raises(NotNow, match="Nobody but Tess"):
                move(tx, found, VERIFIED, femi)
            proof = a_report(tx, read_at=NOW + 3 * HOUR)

            verified = move(tx, found, VERIFIED, femi)
            assert verified.verified_by_report == proof.id

    def test_a_reading_in_use_proves_nothing(self, database: Database) -> None:
        with database.writing() as tx:
            found = a_finding(tx, CORRECTED)
            a_report(tx, read_at=NOW + 2 * HOUR, state_read=StateRead.IN_USE)

            with pytest.raises(NotNow, match="Nobody"):
                move(tx, found, VERIFIED, a_person(tx, Role.FLEET_MANAGER))

    def test_a_reading_after_too_short_a_pause_proves_nothing(self, database: Database) -> None:
        keeping = a_document() | {"models": {"dunlin": {"retention_min": 4}}}
        with database.writing() as tx:
            found = a_finding(tx, CORRECTED, document=keeping)
            femi = a_person(tx, Role.FLEET_MANAGER)
            a_report(tx, read_at=NOW + 2 * HOUR, minutes_off=4)
            with pytest.raises(NotNow, match="so short a pause"):
                move(tx, found, VERIFIED, femi)
            proof = a_report(tx, read_at=NOW + 3 * HOUR, minutes_off=5)

            assert move(tx, found, VERIFIED, femi).verified_by_report == proof.id

    @pytest.mark.parametrize(
        "readings",
        [
            {"spo2-low": limit(90)},
            as_signed(heart_rate_high=CouldNotRead("glare")),
        ],
    )
    def test_a_reading_without_this_alarm_proves_nothing(
        self, database: Database, readings: dict[str, Any]
    ) -> None:
        with database.writing() as tx:
            found = a_finding(tx, CORRECTED)
            a_report(tx, readings, read_at=NOW + 2 * HOUR)

            with pytest.raises(NotNow, match=r"does not show|Nobody but Tess"):
                move(tx, found, VERIFIED, a_person(tx, Role.FLEET_MANAGER))

    def test_a_reading_of_another_state_proves_nothing(self, database: Database) -> None:
        with database.writing() as tx:
            found = a_finding(tx, CORRECTED)
            femi = a_person(tx, Role.FLEET_MANAGER)
            a_report(tx, read_at=NOW + 2 * HOUR, state_read=StateRead.AFTER_CATEGORY)
            with pytest.raises(NotNow, match="at power-on"):
                move(tx, found, VERIFIED, femi)
            proof = a_report(tx, read_at=NOW + 3 * HOUR)

            assert move(tx, found, VERIFIED, femi).verified_by_report == proof.id

    def test_found_in_both_states_it_is_read_in_both(self, database: Database) -> None:
        after: dict[str, Any] = {"state_read": StateRead.AFTER_CATEGORY, "minutes_off": None}
        with database.writing() as tx:
            found = a_finding(tx, CONTAINED)
            femi, tess = a_person(tx, Role.FLEET_MANAGER), a_person(tx, Role.TECHNICIAN)
            a_report(tx, STRAYED, read_at=NOW + MINUTE, **after)
            found = move(tx, found, CORRECTED, tess, now=NOW + HOUR, note="set to 170")
            a_report(tx, read_at=NOW + 2 * HOUR)
            with pytest.raises(NotNow, match="after choosing the category"):
                move(tx, found, VERIFIED, femi)
            proof = a_report(tx, read_at=NOW + 3 * HOUR, **after)

            assert move(tx, found, VERIFIED, femi).verified_by_report == proof.id

    @pytest.mark.parametrize("origin", [Origin.FILE, Origin.API])
    def test_what_a_file_or_a_program_tells_proves_nothing(
        self, sqlite_database: Database, origin: Origin
    ) -> None:
        with sqlite_database.writing() as tx:
            found = a_finding(tx, CORRECTED)
            a_report(tx, read_at=NOW + 2 * HOUR, origin=origin)

            with pytest.raises(NotNow, match="Nobody but Tess"):
                move(tx, found, VERIFIED, a_person(tx, Role.FLEET_MANAGER))


class TestRecurring:
    @pytest.mark.parametrize("status", [CORRECTED, VERIFIED])
    def test_found_again_after_the_correction_it_is_open_again(
        self, database: Database, status: FindingStatus
    ) -> None:
        with database.writing() as tx:
            found = a_finding(tx, status)
            a_report(tx, STRAYED, read_at=NOW + 4 * HOUR)

            (again,) = findings(tx, agency_id=a_person(tx).agency_id, now=NOW)
            assert again.finding.id == found.id
            assert again.finding.status is OPEN
            assert again.finding.corrected is again.finding.verified is None
            assert again.finding.recurrences == 1
            assert (again.finding.cause, again.finding.heard) == (None, None)
            assert again.finding.due_at == NOW + 5 * HOUR
            kinds = [one.kind.value for one in events_of(tx, [found.id])[found.id]]
            until = ["opened", "contained", "corrected", "verified"]
            assert kinds == [*until[: 3 if status is CORRECTED else 4], "reopened"]

    def test_a_reading_from_before_the_correction_does_not_open_it(
        self, database: Database
    ) -> None:
        with database.writing() as tx:
            a_finding(tx, CORRECTED)
            a_report(tx, STRAYED, read_at=NOW + HOUR - MINUTE)

            (still,) = findings(tx, agency_id=a_person(tx).agency_id, now=NOW)
            assert still.finding.status is CORRECTED

    def test_found_again_after_it_was_closed_it_is_a_new_finding(self, database: Database) -> None:
        with database.writing() as tx:
            closed = a_finding(tx, CLOSED)
            a_report(tx, STRAYED, read_at=NOW + DAY)

            (new,) = findings(tx, agency_id=a_person(tx).agency_id, now=NOW)
            assert new.finding.id != closed.id
            assert new.finding.recurred_from == closed.id

    @pytest.mark.parametrize(
        ("passed", "linked"), [(timedelta(0), True), (timedelta(microseconds=1), False)]
    )
    def test_long_after_it_was_closed_it_is_another_matter(
        self, sqlite_database: Database, passed: timedelta, linked: bool
    ) -> None:
        with sqlite_database.writing() as tx:
            closed = a_finding(tx, CLOSED)
            a_report(tx, STRAYED, read_at=NOW + 3 * HOUR + 90 * DAY + passed)

            (new,) = findings(tx, agency_id=a_person(tx).agency_id, now=NOW)
            assert (new.finding.recurred_from == closed.id) is linked


class TestDueTimes:
    def test_they_are_those_that_the_agency_chose_at_the_opening(self, database: Database) -> None:
        with database.writing() as tx:
            dana = a_person(tx)
            chosen = AgencyChoices(unsafe_contain_hours=3, unsafe_verify_hours=9)
            choose(tx, choices=chosen, by=dana, now=NOW)
            found = a_finding(tx)
            choose(tx, choices=AgencyChoices(), by=dana, now=NOW)

            (still,) = findings(tx, agency_id=dana.agency_id, now=NOW)
            assert still.finding == found
            assert (found.contain_due_at, found.verify_due_at) == (NOW + 3 * HOUR, NOW + 9 * HOUR)

    def test_what_is_found_graver_is_due_sooner(self, database: Database) -> None:
        with database.writing() as tx:
            a_signed_revision(tx)
            a_device(tx)
            a_report(tx, as_signed(heart_rate_high=limit(172)))
            agency = a_person(tx).agency_id
            (first,) = findings(tx, agency_id=agency, now=NOW)
            a_report(tx, STRAYED, read_at=NOW + 2 * HOUR)

            (now,) = findings(tx, agency_id=agency, now=NOW)
            assert first.finding.severity is Severity.OFF_PROTOCOL
            assert now.finding.severity is Severity.UNSAFE
            assert (first.finding.due_at, now.finding.due_at) == (NOW + 12 * HOUR, NOW + 3 * HOUR)


def test_what_was_told_stays_with_the_finding(database: Database) -> None:
    with database.writing() as tx:
        found = a_finding(tx, CLOSED)
        last = events_of(tx, [found.id])[found.id][-1]

    assert (found.cause, found.heard, found.seen) == (
        CauseCode.REVERTED,
        Audible.YES,
        Audible.YES,
    )
    assert last.about == "cause: reverted at power-off; at the crew's seat heard: yes, seen: yes"


def test_nothing_is_closed_without_its_cause(database: Database) -> None:
    with database.writing() as tx:
        found = a_finding(tx, VERIFIED)

        with pytest.raises(Refused) as refused:
            move(tx, found, CLOSED, a_person(tx, Role.FLEET_MANAGER))

    assert {fault.column for fault in refused.value.faults} == {"cause", "heard"}


def test_an_outsider_finds_no_finding(database: Database) -> None:
    with database.writing() as tx:
        found = a_finding(tx)

        with pytest.raises(NotFound):
            move(tx, found, CONTAINED, olu(tx), note="x")


@pytest.mark.parametrize(
    ("role", "allowed"),
    [
        (Role.FLEET_MANAGER, True),
        (Role.TECHNICIAN, True),
        (Role.MEDICAL_DIRECTOR, True),
        (Role.CREW, False),
        (Role.QUALITY_OFFICER, False),
        (Role.AUTHOR, False),
    ],
)
def test_who_works_on_findings(sqlite_database: Database, role: Role, allowed: bool) -> None:
    with sqlite_database.writing() as tx:
        found = a_finding(tx)
        somebody = a_person(tx, role)

        if allowed:
            assert move(tx, found, CONTAINED, somebody, note="x").status is CONTAINED
        else:
            with pytest.raises(NotAllowed):
                move(tx, found, CONTAINED, somebody, note="x")
