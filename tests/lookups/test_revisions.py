from app.domain.moves import RevisionStatus
from app.lookups.revisions import all_revisions, in_force, revision
from app.storage.database import Database
from tests.builders import DAY, NOW, a_draft, a_person, a_signed_revision
from tests.storage.statements import counted


def test_a_page_of_the_past_shows_what_was_true_then(database: Database) -> None:
    with database.writing() as tx:
        a_signed_revision(tx)
        a_signed_revision(tx, now=NOW + DAY)
        agency = a_person(tx).agency_id

    with database.reading() as tx:
        then = revision(tx, agency_id=agency, number=1, now=NOW)
        today = revision(tx, agency_id=agency, number=1, now=NOW + DAY)
    assert then.status is RevisionStatus.IN_FORCE
    assert today.status is RevisionStatus.SUPERSEDED
    assert (today.in_force_at, today.until) == (NOW, NOW + DAY)


def test_the_document_in_force_is_the_one_that_was_signed(database: Database) -> None:
    with database.writing() as tx:
        signed = a_signed_revision(tx)
        a_draft(tx)
        held = in_force(tx, agency_id=a_person(tx).agency_id, at=NOW)

    assert held is not None
    assert held.document == signed.document
    assert held.signatures[0].fingerprint == held.fingerprint


def test_the_list_costs_one_statement(sqlite_database: Database) -> None:
    with sqlite_database.writing() as tx:
        for _ in range(3):
            a_draft(tx)
        agency = a_person(tx).agency_id

    with sqlite_database.reading() as tx, counted(sqlite_database) as statements:
        lines = all_revisions(tx, agency_id=agency, now=NOW)
    assert [line.number for line in lines] == [1, 2, 3]
    assert len(statements) == 1
