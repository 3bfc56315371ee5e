import json

import pytest

from app.actions.revisions import edit_draft, move_revision
from app.actions.signing import sign_revision
from app.actions.waivers import waive_finding
from app.domain.default_bounds import DEFAULT_BOUNDS
from app.domain.errors import NotFound
from app.domain.findings import Severity
from app.domain.moves import RevisionStatus
from app.domain.people import Role
from app.domain.waivers import finding_key
from app.lookups.ledger import head_of
from app.lookups.papers import policy_paper
from app.storage import ledger
from app.storage.database import Database
from tests.adopted_bounds import adopted_bounds
from tests.builders import (
    DAY,
    HOUR,
    NOW,
    PASSWORD,
    a_device,
    a_document,
    a_draft,
    a_person,
    a_revision_in_review,
    a_signed_revision,
    olu,
)


def test_a_signed_revision_names_its_own_ledger_entry_and_the_head_of_today(
    database: Database,
) -> None:
    with database.writing() as tx:
        a_signed_revision(tx)
        a_signed_revision(tx)
        a_device(tx)
        dana = a_person(tx)

        paper = policy_paper(tx, agency_id=dana.agency_id, number=1, now=NOW + DAY)

        entries = list(ledger.entries(tx, "skerry"))
        head = head_of(tx, agency="skerry")

    assert (paper.head.seq, paper.head.hash) == (len(entries), head)
    assert paper.signing is not None
    entry = entries[paper.signing.seq - 1]
    told = json.loads(entry.body)
    assert entry.hash == paper.signing.hash
    assert (told["did"], told["about"]["revision"], told["by"]) == ("sign", 1, "dana")


def test_a_paper_tells_how_the_revision_stands_when_it_is_printed(database: Database) -> None:
    with database.writing() as tx:
        a_signed_revision(tx, in_force_at=NOW + HOUR)
        a_signed_revision(tx, in_force_at=NOW + 2 * HOUR)
        agency = a_person(tx).agency_id

        told = [
            policy_paper(tx, agency_id=agency, number=1, now=NOW + hours * HOUR).revision.status
            for hours in (0, 1, 2)
        ]

    assert told == [RevisionStatus.SIGNED, RevisionStatus.IN_FORCE, RevisionStatus.SUPERSEDED]


@pytest.mark.parametrize("make", [a_draft, a_revision_in_review])
def test_what_nobody_signed_has_no_entry_of_signing(database: Database, make: object) -> None:
    with database.writing() as tx:
        found = make(tx)  # type: ignore[operator]
        agency = a_person(tx).agency_id

        paper = policy_paper(tx, agency_id=agency, number=found.number, now=NOW)

    assert paper.signing is None
    assert not paper.is_signed
    assert not paper.holds


def test_a_signed_revision_keeps_the_bounds_that_judged_it_and_a_draft_has_those_of_now(
    database: Database,
) -> None:
    with database.writing() as tx:
        document = a_document({"heart-rate-high": 175})
        a_signed_revision(tx, document=document)
        adopted_bounds(tx, now=NOW + HOUR, in_force_at=NOW + HOUR)
        a_draft(tx, document=document)
        agency = a_person(tx).agency_id

        signed, draft = (
            policy_paper(tx, agency_id=agency, number=number, now=NOW + DAY) for number in (1, 2)
        )

    def unsafe(paper: object) -> int:
        return sum(one.severity is Severity.UNSAFE for one in paper.findings)  # type: ignore[attr-defined]

    assert (signed.bounds, unsafe(signed)) == (DEFAULT_BOUNDS.name, 0)
    assert draft.bounds == "version 1, signed by Dana"
    assert unsafe(draft) > 0


def test_bounds_adopted_after_the_signing_judged_nothing_of_it(database: Database) -> None:
    """Although they hold already when the revision comes into force."""
    with database.writing() as tx:
        a_signed_revision(tx, in_force_at=NOW + 2 * DAY)
        adopted_bounds(tx, now=NOW + HOUR, in_force_at=NOW + DAY)
        a_signed_revision(tx, now=NOW + 2 * HOUR, in_force_at=NOW + 3 * DAY)
        agency = a_person(tx).agency_id

        told = [
            policy_paper(tx, agency_id=agency, number=number, now=NOW + 4 * DAY).bounds
            for number in (1, 2)
        ]

    assert told == [DEFAULT_BOUNDS.name, "version 1, signed by Dana"]


def test_the_waivers_signed_with_it_stand_on_its_paper(database: Database) -> None:
    with database.writing() as tx:
        submitted = a_revision_in_review(tx, document=a_document({"heart-rate-high": 185}))
        dana = a_person(tx, Role.MEDICAL_DIRECTOR)
        draft = policy_paper(tx, agency_id=dana.agency_id, number=1, now=NOW)
        for finding in draft.findings:
            if finding.severity is Severity.UNSAFE:
                waive_finding(
                    tx,
                    number=1,
                    finding=finding_key(finding),
                    reason="until the new boxes are here",
                    until=(NOW + 30 * DAY).date(),
                    by=dana,
                    now=NOW,
                )
        sign_revision(
            tx,
            number=1,
            fingerprint=submitted.fingerprint,
            meaning="This is our policy.",
            password=PASSWORD,
            by=dana,
            now=NOW,
        )

        paper = policy_paper(tx, agency_id=dana.agency_id, number=1, now=NOW)

    unsafe = {finding_key(one) for one in paper.findings if one.severity is Severity.UNSAFE}
    assert unsafe
    assert {waiver.finding for waiver in paper.waivers} == unsafe


def test_a_waiver_that_an_edit_has_made_void_is_not_printed(database: Database) -> None:
    with database.writing() as tx:
        a_draft(tx, document=a_document({"heart-rate-high": 185}))
        dana = a_person(tx, Role.MEDICAL_DIRECTOR)
        draft = policy_paper(tx, agency_id=dana.agency_id, number=1, now=NOW)
        unsafe = next(one for one in draft.findings if one.severity is Severity.UNSAFE)
        waive_finding(
            tx,
            number=1,
            finding=finding_key(unsafe),
            reason="for now",
            until=(NOW + DAY).date(),
            by=dana,
            now=NOW,
        )
        edit_draft(tx, number=1, document=a_document(), edit_version=1, by=dana, now=NOW)

        paper = policy_paper(tx, agency_id=dana.agency_id, number=1, now=NOW)

    assert paper.waivers == ()


def test_a_withdrawn_revision_no_longer_holds(database: Database) -> None:
    with database.writing() as tx:
        a_signed_revision(tx)
        dana = a_person(tx, Role.MEDICAL_DIRECTOR)
        move_revision(
            tx, number=1, to=RevisionStatus.WITHDRAWN, by=dana, now=NOW + HOUR, note="wrong"
        )

        paper = policy_paper(tx, agency_id=dana.agency_id, number=1, now=NOW + DAY)

    assert paper.is_signed
    assert not paper.holds


def test_a_revision_of_another_agency_is_not_found(database: Database) -> None:
    with database.writing() as tx:
        a_signed_revision(tx)
        outsider = olu(tx)

        with pytest.raises(NotFound):
            policy_paper(tx, agency_id=outsider.agency_id, number=1, now=NOW)
