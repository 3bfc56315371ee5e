import pytest
from sqlmodel import Session

from app.actions import reaudits
from app.actions.reaudits import reaudit
from app.domain.errors import NotAllowed, NotNow
from app.domain.finding_events import EventKind
from app.domain.finding_life import FindingStatus, StoredFinding
from app.domain.findings import Severity
from app.domain.people import Role
from app.lookups.reaudits import reaudit_due, reaudit_today
from app.storage import held_blocks
from app.storage.database import Database
from app.storage.finding_events import events_of
from app.storage.finding_rows import findings_where
from app.storage.reports import find_report
from tests.adopted_bounds import adopted_bounds
from tests.builders import (
    DAY,
    NOW,
    PRESET,
    a_device,
    a_document,
    a_person,
    a_report,
    a_signed_revision,
    as_signed,
    limit,
    olu,
)
from tests.storage.ledgers import bodies, deeds

LATER = NOW + 3 * DAY


def tightened(tx: Session, *tags: str) -> None:
    """The devices were read as signed; then revision and bounds became stricter."""
    a_signed_revision(tx, document=a_document({"heart-rate-high": 180}))
    for tag in tags:
        a_device(tx, tag)
        a_report(tx, as_signed(heart_rate_high=limit(180)), device=tag)
    a_signed_revision(tx, now=NOW + DAY)
    adopted_bounds(tx, now=NOW + DAY)


def findings(tx: Session) -> list[StoredFinding]:
    return findings_where(tx)


def test_what_is_unsafe_today_has_a_finding_and_the_judgement_of_then_stays(
    database: Database,
) -> None:
    with database.writing() as tx:
        tightened(tx, "boat-3")
        before = findings(tx)
        femi = a_person(tx, Role.FLEET_MANAGER)
        done = reaudit(tx, by=femi, now=LATER)
        (found,) = findings(tx)
        report = find_report(tx, agency_id=femi.agency_id, report_id=found.report)
        story = events_of(tx, [found.id])[found.id]

    assert before == []
    assert (done.opened, done.graver, done.left) == (1, 0, 0)
    assert (found.preset, found.alarm, found.severity) == (
        PRESET,
        "heart-rate-high",
        Severity.UNSAFE,
    )
    assert (found.status, found.opened_at) == (FindingStatus.OPEN, LATER)
    assert found.contain_due_at is not None
    assert found.contain_due_at > LATER
    assert report is not None
    assert report.verdicts == {}
    assert [(event.kind, event.name) for event in story] == [
        (EventKind.OPENED, "Femi"),
        (EventKind.COMMENTED, "Femi"),
    ]
    assert "held against revision 2" in story[1].note


def test_twice_opens_nothing_more_but_is_written_down(database: Database) -> None:
    with database.writing() as tx:
        tightened(tx, "boat-3")
        femi = a_person(tx, Role.FLEET_MANAGER)
        reaudit(tx, by=femi, now=LATER)
        again = reaudit(tx, by=femi, now=LATER + DAY)
        told = len(findings(tx)), len(entries(tx)), deeds(tx)[-1]

    assert (again.opened, again.graver, again.left) == (0, 0, 0)
    assert told == (1, 2, "re-audit devices")


def test_stricter_bounds_make_an_off_protocol_finding_graver_and_due_anew(
    database: Database,
) -> None:
    with database.writing() as tx:
        a_signed_revision(tx)
        a_device(tx)
        a_report(tx, as_signed(heart_rate_high=limit(175)))
        (before,) = findings(tx)
        adopted_bounds(tx, now=NOW + DAY)
        femi = a_person(tx, Role.FLEET_MANAGER)
        done = reaudit(tx, by=femi, now=LATER)
        (after,) = findings(tx)
        kinds = [event.kind for event in events_of(tx, [after.id])[after.id]]

    assert before.severity is Severity.OFF_PROTOCOL
    assert (done.opened, done.graver) == (0, 1)
    assert (after.id, after.severity) == (before.id, Severity.UNSAFE)
    assert after.contain_due_at is not None
    assert after.contain_due_at > LATER
    assert kinds == [EventKind.OPENED, EventKind.FOUND_AGAIN, EventKind.COMMENTED]


def test_one_entry_for_each_chunk(database: Database, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(held_blocks, "A_TIME", 2)
    with database.writing() as tx:
        tightened(tx, "kit-1", "kit-2", "kit-3")
        a_device(tx, "never")
        done = reaudit(tx, by=a_person(tx, Role.FLEET_MANAGER), now=LATER)
        told = entries(tx)

    assert done.opened == 3
    assert [(one["first"], one["last"], one["devices"]) for one in told] == [
        ("kit-1", "kit-2", 2),
        ("kit-3", "kit-3", 1),
    ]
    assert [(one["unsafe"], one["unsafe_when_read"], one["revision"]) for one in told] == [
        (2, 0, 2),
        (1, 0, 2),
    ]


def test_no_more_are_opened_at_once_than_people_can_take(
    database: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(reaudits, "MOST_OPENED", 2)
    with database.writing() as tx:
        tightened(tx, "kit-1", "kit-2", "kit-3")
        femi = a_person(tx, Role.FLEET_MANAGER)
        runs = [reaudit(tx, by=femi, now=LATER) for _ in range(3)]

    assert [(run.opened, run.left) for run in runs] == [(2, 1), (1, 0), (0, 0)]


def test_the_page_says_beforehand_what_a_run_would_find(database: Database) -> None:
    with database.writing() as tx:
        tightened(tx, "boat-3", "boat-4")
        agency = a_person(tx).agency_id
        before = reaudit_today(tx, agency_id=agency, now=LATER)
        done = reaudit(tx, by=a_person(tx, Role.MEDICAL_DIRECTOR), now=LATER)
        after = reaudit_today(tx, agency_id=agency, now=LATER)

    assert before.found == done.found == after.found
    assert (before.without, after.without) == (2, 0)
    assert [one.device for one in before.found.newly_unsafe] == ["boat-3", "boat-4"]


def test_only_who_answers_for_the_fleet_may(database: Database) -> None:
    with database.writing() as tx:
        tightened(tx, "boat-3")

        for role in (Role.TECHNICIAN, Role.CREW, Role.QUALITY_OFFICER):
            with pytest.raises(NotAllowed):
                reaudit(tx, by=a_person(tx, role), now=LATER)


def test_without_a_policy_there_is_nothing_to_hold_it_against(database: Database) -> None:
    with database.writing() as tx:
        a_device(tx)

        with pytest.raises(NotNow):
            reaudit(tx, by=a_person(tx, Role.FLEET_MANAGER), now=LATER)


def test_another_agency_is_left_alone(database: Database) -> None:
    with database.writing() as tx:
        tightened(tx, "boat-3")
        outsider = olu(tx).agency_id

        assert reaudit_today(tx, agency_id=outsider, now=LATER).revision is None


def entries(tx: Session) -> list[dict[str, object]]:
    return [body["about"] for body in bodies(tx) if body["did"] == "re-audit devices"]


def test_a_stricter_policy_asks_for_a_run_until_there_was_one(database: Database) -> None:
    with database.writing() as tx:
        tightened(tx, "boat-3")
        femi = a_person(tx, Role.FLEET_MANAGER)

        due = reaudit_due(tx, agency_id=femi.agency_id, now=LATER)
        assert due is not None
        assert (due.revision, due.since, due.last) == (2, NOW + DAY, None)
        reaudit(tx, by=femi, now=LATER)
        assert reaudit_due(tx, agency_id=femi.agency_id, now=LATER) is None

        a_signed_revision(tx, now=LATER, in_force_at=LATER + DAY)
        assert reaudit_due(tx, agency_id=femi.agency_id, now=LATER) is None
        begun = reaudit_due(tx, agency_id=femi.agency_id, now=LATER + DAY)
        assert begun is not None
        assert begun.last is not None
        assert (begun.revision, begun.last.revision, begun.last.run_at) == (3, 2, LATER)


def test_bounds_that_came_into_force_ask_for_one_too(database: Database) -> None:
    with database.writing() as tx:
        a_signed_revision(tx)
        a_device(tx)
        a_report(tx)
        femi = a_person(tx, Role.FLEET_MANAGER)
        assert reaudit_due(tx, agency_id=femi.agency_id, now=NOW) is None  # read after it began
        adopted_bounds(tx, now=NOW + DAY)

        due = reaudit_due(tx, agency_id=femi.agency_id, now=NOW + DAY)
        assert due is not None
        assert due.bounds.startswith("version 1, signed by")
        a_report(tx, read_at=NOW + 2 * DAY)
        assert reaudit_due(tx, agency_id=femi.agency_id, now=LATER) is None
        assert reaudit_due(tx, agency_id=olu(tx).agency_id, now=LATER) is None
