from datetime import datetime

import pytest

from app.actions.revisions import move_revision
from app.domain.moves import RevisionStatus
from app.domain.people import Role
from app.lookups.confirmations import confirmation
from app.lookups.ledger import head_of
from app.storage.database import Database
from tests.builders import (
    DAY,
    HOUR,
    MINUTE,
    NOW,
    a_device,
    a_draft,
    a_person,
    a_revision_in_review,
    a_signed_revision,
    an_agency,
    olu,
)

LATER = NOW + HOUR


@pytest.mark.parametrize(
    ("at", "status", "since", "holds"),
    [
        (LATER - MINUTE, RevisionStatus.SIGNED, LATER, False),
        (LATER, RevisionStatus.IN_FORCE, LATER, True),
        (NOW + DAY - MINUTE, RevisionStatus.IN_FORCE, LATER, True),
        (NOW + DAY, RevisionStatus.SUPERSEDED, NOW + DAY, False),
    ],
)
def test_a_signed_paper_is_confirmed_as_it_stands_now(
    database: Database, at: datetime, status: RevisionStatus, since: datetime, *, holds: bool
) -> None:
    with database.writing() as tx:
        signed = a_signed_revision(tx, in_force_at=LATER)
        a_signed_revision(tx, in_force_at=NOW + DAY)

        found = confirmation(
            tx, agency=an_agency(tx), fingerprint=signed.fingerprint, head="", now=at
        )

    assert found is not None
    assert (found.line.number, found.line.status, found.since) == (1, status, since)
    assert found.holds is holds
    assert [one.name for one in found.signatures] == ["Dana"]
    assert not found.head_asked


def test_a_withdrawn_paper_says_since_when(database: Database) -> None:
    with database.writing() as tx:
        signed = a_signed_revision(tx)
        dana = a_person(tx, Role.MEDICAL_DIRECTOR)
        gone = RevisionStatus.WITHDRAWN
        move_revision(tx, number=1, to=gone, by=dana, now=LATER, note="wrong leads")

        found = confirmation(
            tx, agency=an_agency(tx), fingerprint=signed.fingerprint, head="", now=NOW + DAY
        )

    assert found is not None
    assert (found.line.status, found.since, found.holds) == (gone, LATER, False)


@pytest.mark.parametrize("make", [a_draft, a_revision_in_review])
def test_a_draft_is_never_confirmed(database: Database, make: object) -> None:
    with database.writing() as tx:
        found = make(tx)  # type: ignore[operator]

        told = confirmation(
            tx, agency=an_agency(tx), fingerprint=found.fingerprint, head="", now=NOW
        )

    assert told is None


def test_another_agency_does_not_know_the_paper(database: Database) -> None:
    with database.writing() as tx:
        signed = a_signed_revision(tx)
        olu(tx)

        told = confirmation(
            tx, agency=an_agency(tx, "elsewhere"), fingerprint=signed.fingerprint, head="", now=NOW
        )

    assert told is None


@pytest.mark.parametrize("fingerprint", ["", "0" * 64, "a" * 63, "%", "' OR 1=1"])
def test_what_was_never_signed_here_is_not_known(database: Database, fingerprint: str) -> None:
    with database.writing() as tx:
        a_signed_revision(tx)

        told = confirmation(tx, agency=an_agency(tx), fingerprint=fingerprint, head="", now=NOW)

    assert told is None


def test_a_head_of_this_ledger_is_told_by_its_entry_and_any_other_is_not_known(
    database: Database,
) -> None:
    with database.writing() as tx:
        signed = a_signed_revision(tx)
        known = head_of(tx, agency="skerry")
        a_device(tx)
        olu(tx)
        foreign = head_of(tx, agency="elsewhere")

        def entry(head: str) -> int | None:
            found = confirmation(
                tx, agency=an_agency(tx), fingerprint=signed.fingerprint, head=head, now=NOW
            )
            assert found is not None
            assert found.head_asked
            return found.entry

        told = [
            entry(known),
            entry(known.upper()),
            entry(foreign),
            entry("f" * 64),
            entry("nonsense"),
        ]
        last = entry(head_of(tx, agency="skerry"))

    assert told[0] is not None
    assert last is not None
    assert last > told[0]
    assert told[1:] == [told[0], None, None, None]
