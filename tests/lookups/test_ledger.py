import hashlib

import pytest
from sqlmodel import Session, SQLModel, text

from app.domain.ledger import GENESIS
from app.lookups.ledger import head_of, prove_agency, prove_ledger
from app.lookups.revisions import in_force
from app.storage.database import Database
from app.storage.documents import AlteredDocument
from app.storage.ledger import append
from tests.adopted_bounds import adopted_bounds
from tests.builders import NOW, a_draft, a_signed_revision, an_agency
from tests.storage.ledgers import lift_guard


def three_entries(tx: Session) -> str:
    """The head after them."""
    an_agency(tx)
    append(tx, agency="skerry", did="one", by="dana", at=NOW)
    return append(tx, agency="skerry", did="two", by="dana", at=NOW, about={"limit": 90})


def alter(database: Database, statement: str, **values: str) -> None:
    with database.writing() as tx:
        lift_guard(tx)
        tx.execute(text(statement), values)


def test_an_untouched_ledger_holds(database: Database) -> None:
    with database.writing() as tx:
        head = three_entries(tx)
        an_agency(tx, "elsewhere")

    with database.reading() as tx:
        proof = prove_ledger(tx, head=head)
        assert proof.holds
        assert {agency: one.entries for agency, one in proof.chains.items()} == {
            "elsewhere": 1,
            "skerry": 3,
        }
        assert proof.chains["skerry"].head == head == head_of(tx, agency="skerry")


@pytest.mark.parametrize(
    ("statement", "broken_at"),
    [
        ("UPDATE ledger SET body = replace(body, '90', '95') WHERE seq = 3", 3),
        ("UPDATE ledger SET prev = replace(prev, '0', '1') WHERE seq = 1", 1),
        ("DELETE FROM ledger WHERE seq = 2", 2),
        ("DELETE FROM ledger WHERE seq = 3", 3),
        ("DELETE FROM ledger", 1),
        ("DELETE FROM ledger_head", 4),
        ("UPDATE ledger_head SET hash = replace(hash, '1', '2')", 4),
        ("UPDATE ledger_head SET seq = seq - 1", 4),
        ("UPDATE ledger SET seq = 9 WHERE seq = 2", 2),
    ],
)
def test_whatever_is_altered_shows(database: Database, statement: str, broken_at: int) -> None:
    with database.writing() as tx:
        three_entries(tx)

    alter(database, statement)

    with database.reading() as tx:
        proof = prove_ledger(tx)
    assert not proof.holds
    assert proof.chains["skerry"].broken_at == broken_at


def column_tampered_with(table: str, column: str) -> str:
    """Any other value that the checks of the table still take, in the second entry."""
    other = {
        "agency": "'other'",
        "seq": "seq + 5",
        "body": "body || ' '",
        "prev": f"'{'1' * 64}'",
        "hash": f"'{'2' * 64}'",
    }[column]
    only = " AND seq = 2" if table == "ledger" else ""
    return f"UPDATE {table} SET {column} = {other} WHERE agency = 'skerry'{only}"


@pytest.mark.parametrize(
    ("table", "column"),
    [
        (table, column.name)
        for table in ("ledger", "ledger_head")
        for column in SQLModel.metadata.tables[table].columns
    ],
)
def test_every_column_is_proven(database: Database, table: str, column: str) -> None:
    with database.writing() as tx:
        three_entries(tx)

    alter(database, column_tampered_with(table, column))

    with database.reading() as tx:
        proof = prove_ledger(tx)
    assert not proof.holds
    assert proof.chains["skerry"].broken_at == (2 if table == "ledger" else 4)


def test_entries_that_changed_places_show(database: Database) -> None:
    with database.writing() as tx:
        three_entries(tx)

    for step in ("seq = 9 WHERE seq = 2", "seq = 2 WHERE seq = 3", "seq = 3 WHERE seq = 9"):
        alter(database, f"UPDATE ledger SET {step}")

    with database.reading() as tx:
        assert prove_ledger(tx).chains["skerry"].broken_at == 2


def test_an_agency_whose_whole_ledger_is_gone_shows(database: Database) -> None:
    with database.writing() as tx:
        three_entries(tx)

    alter(database, "DELETE FROM ledger")
    alter(database, "DELETE FROM ledger_head")

    with database.reading() as tx:
        proof = prove_ledger(tx)
    assert not proof.holds
    assert proof.chains["skerry"].broken_at == 1


def test_a_tail_cut_off_with_its_head_shows_against_a_head_kept_outside(
    database: Database,
) -> None:
    with database.writing() as tx:
        before = three_entries(tx)
        kept_outside = append(tx, agency="skerry", did="three", by="dana", at=NOW)
    alter(database, "DELETE FROM ledger WHERE seq = 4")
    alter(database, "UPDATE ledger_head SET seq = 3, hash = :before", before=before)

    with database.reading() as tx:
        assert prove_ledger(tx).holds
        assert not prove_ledger(tx, head=kept_outside).holds
        assert not prove_agency(tx, agency="skerry", head=kept_outside).holds


def test_a_signed_document_that_was_altered_shows_and_is_not_handed_out(
    database: Database,
) -> None:
    with database.writing() as tx:
        agency = an_agency(tx)
        a_signed_revision(tx)
    alter(database, "UPDATE revision SET document = replace(document, 'Ground', 'Grounds')")

    with database.reading() as tx:
        proof = prove_agency(tx, agency="skerry")
        assert not proof.holds
        assert proof.why == "revision 1 is no longer the document that was signed"
        with pytest.raises(AlteredDocument, match="Revision 1"):
            in_force(tx, agency_id=agency.id, at=NOW)


ALTERED = "replace(document, 'Ground', 'Grounds')"
SIGNED_TABLES = [
    ("UPDATE signature SET meaning = 'x'", "revision 1 no longer says who signed it as what"),
    ("UPDATE signature SET username = 'x'", "revision 1 no longer says who signed it as what"),
    ("DELETE FROM signature", "revision 1 was signed, and its signature is gone"),
    (
        "UPDATE outer_bounds SET text = text || ' '",
        "version 1 of the outer bounds is no longer the document that was signed",
    ),
    (
        "UPDATE outer_bounds SET signer_username = 'x'",
        "version 1 of the outer bounds no longer says who signed it as what",
    ),
    (
        "DELETE FROM outer_bounds",
        "version 1 of the outer bounds was signed, and its signature is gone",
    ),
    ("UPDATE revision SET document = 'x'", "revision 1 is no longer the document that was signed"),
    ("UPDATE revision SET number = 7", "revision 1 was signed, and its signature is gone"),
]


@pytest.mark.parametrize(("statement", "why"), SIGNED_TABLES)
def test_what_was_signed_is_held_against_the_ledger(
    database: Database, statement: str, why: str
) -> None:
    with database.writing() as tx:
        a_signed_revision(tx)
        adopted_bounds(tx)
    with database.reading() as tx:
        assert prove_ledger(tx).holds

    alter(database, statement)

    with database.reading() as tx:
        proof = prove_agency(tx, agency="skerry")
    assert not proof.holds
    assert proof.why == why


def test_a_document_that_was_altered_with_its_fingerprints_shows(database: Database) -> None:
    with database.writing() as tx:
        a_signed_revision(tx)
        document = tx.execute(text(f"SELECT {ALTERED} FROM revision")).scalar_one()
    fitting = hashlib.sha256(document.encode()).hexdigest()

    alter(database, f"UPDATE revision SET document = {ALTERED}, fingerprint = :new", new=fitting)
    alter(database, "UPDATE signature SET fingerprint = :new", new=fitting)

    with database.reading() as tx:
        told = prove_agency(tx, agency="skerry").why
    assert told == "revision 1 is no longer the document that was signed"


def test_a_signature_that_nobody_gave_shows(database: Database) -> None:
    with database.writing() as tx:
        a_signed_revision(tx)
        a_draft(tx)
    columns = "person_id, username, name, roles, signed_at, meaning, fingerprint"

    alter(
        database,
        f"INSERT INTO signature (revision_id, {columns}) SELECT "
        f"(SELECT id FROM revision WHERE number = 2), {columns} FROM signature",
    )

    with database.reading() as tx:
        told = prove_agency(tx, agency="skerry").why
    assert told == "revision 2 bears a signature that the ledger does not know"


def test_an_agency_without_entries_has_the_first_head(database: Database) -> None:
    with database.reading() as tx:
        assert head_of(tx, agency="nowhere") == GENESIS
