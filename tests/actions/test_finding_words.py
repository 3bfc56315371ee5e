from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

import pytest
from sqlmodel import Session

from app.actions.finding_words import (
    accept_finding,
    assign_finding,
    comment_on_finding,
    withdraw_acceptance,
)
from app.domain.errors import NotAllowed, NotFound, NotNow, Refused
from app.domain.finding_life import FindingStatus, StoredFinding
from app.domain.people import Person, Role
from app.lookups.findings import findings
from app.storage.database import Database
from app.storage.finding_events import events_of
from app.storage.findings import finding_by_id
from tests.actions.test_findings import STRAYED, a_finding, move
from tests.builders import (
    DAY,
    HOUR,
    NOW,
    a_device,
    a_person,
    a_report,
    a_signed_revision,
    as_signed,
    limit,
    olu,
)
from tests.storage.ledgers import bodies

UNTIL = date(2026, 3, 4)
OPEN, CORRECTED = FindingStatus.OPEN, FindingStatus.CORRECTED


def accept(tx: Session, found: StoredFinding, **instead: Any) -> StoredFinding:
    told: dict[str, Any] = {"reason": "next revision", "until": UNTIL, "by": a_person(tx)}
    return accept_finding(tx, finding_id=found.id, now=NOW, **(told | instead))


def kinds(tx: Session, found: StoredFinding) -> list[str]:
    return [one.kind.value for one in events_of(tx, [found.id])[found.id]]


class TestAccepting:
    @pytest.mark.parametrize("status", FindingStatus)
    def test_only_before_it_is_verified(
        self, sqlite_database: Database, status: FindingStatus
    ) -> None:
        with sqlite_database.writing() as tx:
            found = a_finding(tx, status)

            if status.value in ("open", "contained", "corrected"):
                assert accept(tx, found).status is status
            else:
                with pytest.raises(NotNow):
                    accept(tx, found)

    def test_it_stands_until_the_end_of_its_day(self, database: Database) -> None:
        with database.writing() as tx:
            found = accept(tx, a_finding(tx))
            ends = NOW.replace(hour=0) + 3 * DAY

            assert found.accepted(ends - timedelta(microseconds=1)) is not None
            assert found.accepted(ends) is None
            assert found.due_at == ends
            assert found.overdue(ends + HOUR)

    @pytest.mark.parametrize("role", Role)
    def test_only_the_medical_director_may(self, sqlite_database: Database, role: Role) -> None:
        with sqlite_database.writing() as tx:
            found = a_finding(tx)
            by = a_person(tx, role)

            if role is Role.MEDICAL_DIRECTOR:
                assert accept(tx, found, by=by).acceptance is not None
                assert withdraw_acceptance(tx, finding_id=found.id, by=by, now=NOW).id == found.id
                return
            with pytest.raises(NotAllowed):
                accept(tx, found, by=by)
            with pytest.raises(NotAllowed):
                withdraw_acceptance(tx, finding_id=found.id, by=by, now=NOW)

    @pytest.mark.parametrize(
        "instead", [{"reason": " "}, {"until": date(2026, 3, 1)}, {"until": date(2028, 3, 1)}]
    )
    def test_it_needs_a_reason_and_a_day_to_come(
        self, sqlite_database: Database, instead: dict[str, Any]
    ) -> None:
        with sqlite_database.writing() as tx, pytest.raises(Refused):
            accept(tx, a_finding(tx), **instead)

    def test_it_can_be_withdrawn_and_its_story_stays(self, database: Database) -> None:
        with database.writing() as tx:
            found = accept(tx, a_finding(tx))
            again = withdraw_acceptance(
                tx, finding_id=found.id, by=a_person(tx), now=NOW, note="too risky"
            )

            assert again.acceptance is None
            assert kinds(tx, found) == ["opened", "accepted", "acceptance-ended"]
            assert [body["did"] for body in bodies(tx)][-2:] == [
                "accept a finding",
                "withdraw an acceptance",
            ]
            with pytest.raises(NotNow):
                withdraw_acceptance(tx, finding_id=found.id, by=a_person(tx), now=NOW)

    def test_what_has_ended_is_not_withdrawn(self, sqlite_database: Database) -> None:
        with sqlite_database.writing() as tx:
            found = accept(tx, a_finding(tx))

            with pytest.raises(NotNow):
                withdraw_acceptance(tx, finding_id=found.id, by=a_person(tx), now=NOW + 3 * DAY)

    def test_nobody_accepted_what_is_found_graver(self, database: Database) -> None:
        with database.writing() as tx:
            a_signed_revision(tx)
            a_device(tx)
            a_report(tx, as_signed(heart_rate_high=limit(172)))
            (page,) = findings(tx, agency_id=a_person(tx).agency_id, now=NOW)
            found = accept(tx, page.finding)
            a_report(tx, as_signed(heart_rate_high=limit(173)), read_at=NOW + HOUR)
            still = finding_by_id(tx, found.id)
            a_report(tx, STRAYED, read_at=NOW + 2 * HOUR)
            graver = finding_by_id(tx, found.id)

            assert still.acceptance is not None
            assert graver.acceptance is None
            assert kinds(tx, found)[-2:] == ["found-again", "acceptance-ended"]

    def test_nobody_accepted_what_came_back(self, database: Database) -> None:
        with database.writing() as tx:
            found = accept(tx, a_finding(tx, CORRECTED))
            a_report(tx, STRAYED, read_at=NOW + 2 * HOUR)

            assert finding_by_id(tx, found.id).acceptance is None

    def test_its_life_goes_on_meanwhile(self, sqlite_database: Database) -> None:
        with sqlite_database.writing() as tx:
            found = accept(tx, a_finding(tx))
            femi = a_person(tx, Role.FLEET_MANAGER)

            contained = move(tx, found, FindingStatus.CONTAINED, femi, note="card")
            assert contained.accepted(NOW) is not None


class TestOwner:
    def test_it_is_somebody_who_may_move_findings(self, database: Database) -> None:
        with database.writing() as tx:
            found = a_finding(tx)
            femi, tess = a_person(tx, Role.FLEET_MANAGER), a_person(tx, Role.TECHNICIAN)
            a_person(tx, Role.CREW)

            mine = assign_finding(tx, finding_id=found.id, to="tess", by=femi, now=NOW)
            assert mine.owner is not None
            assert (mine.owner.person_id, mine.owner.name) == (tess.id, "Tess")
            with pytest.raises(Refused):
                assign_finding(tx, finding_id=found.id, to="cruz", by=femi, now=NOW)
            assert assign_finding(tx, finding_id=found.id, to="", by=femi, now=NOW).owner is None
            assert kinds(tx, found) == ["opened", "assigned", "assigned"]

    def test_the_same_again_changes_nothing(self, sqlite_database: Database) -> None:
        with sqlite_database.writing() as tx:
            found = a_finding(tx)
            femi = a_person(tx, Role.FLEET_MANAGER)
            for _ in range(2):
                assign_finding(tx, finding_id=found.id, to="femi", by=femi, now=NOW)

            assert kinds(tx, found) == ["opened", "assigned"]

    def test_somebody_of_another_agency_owns_nothing_here(self, sqlite_database: Database) -> None:
        with sqlite_database.writing() as tx:
            found = a_finding(tx)
            olu(tx)

            with pytest.raises(Refused):
                assign_finding(
                    tx, finding_id=found.id, to="olu", by=a_person(tx, Role.TECHNICIAN), now=NOW
                )

    def test_what_is_closed_needs_nobody(self, sqlite_database: Database) -> None:
        with sqlite_database.writing() as tx:
            found = a_finding(tx, FindingStatus.CLOSED)

            with pytest.raises(NotNow):
                assign_finding(
                    tx, finding_id=found.id, to="femi", by=a_person(tx, Role.TECHNICIAN), now=NOW
                )


class TestCommenting:
    @pytest.mark.parametrize("role", Role)
    def test_everybody_of_the_agency_may(self, sqlite_database: Database, role: Role) -> None:
        with sqlite_database.writing() as tx:
            found = a_finding(tx)
            by = a_person(tx, role)
            comment_on_finding(tx, finding_id=found.id, text=" seen it too ", by=by, now=NOW)

            last = events_of(tx, [found.id])[found.id][-1]
            assert (last.kind.value, last.note, last.name) == ("commented", "seen it too", by.name)

    def test_it_says_something(self, sqlite_database: Database) -> None:
        with sqlite_database.writing() as tx, pytest.raises(Refused):
            comment_on_finding(tx, finding_id=a_finding(tx).id, text=" ", by=a_person(tx), now=NOW)


Act = Callable[[Session, int, Person], object]
ACTS: dict[str, Act] = {
    "accept": lambda tx, number, by: accept_finding(
        tx, finding_id=number, reason="x", until=UNTIL, by=by, now=NOW
    ),
    "withdraw": lambda tx, number, by: withdraw_acceptance(tx, finding_id=number, by=by, now=NOW),
    "assign": lambda tx, number, by: assign_finding(tx, finding_id=number, to="", by=by, now=NOW),
    "comment": lambda tx, number, by: comment_on_finding(
        tx, finding_id=number, text="x", by=by, now=NOW
    ),
}


@pytest.mark.parametrize("act", ACTS.values(), ids=ACTS)
def test_an_outsider_finds_nothing(database: Database, act: Act) -> None:
    with database.writing() as tx:
        found = a_finding(tx)

        with pytest.raises(NotFound):
            act(tx, found.id, olu(tx))
