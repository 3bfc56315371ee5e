"""The database itself refuses what is no new entry, past all our code."""

import pytest
from sqlalchemy.exc import IntegrityError
from sqlmodel import text

from app.lookups.ledger import prove_ledger
from app.storage.database import Database
from app.storage.ledger import append
from tests.builders import NOW, an_agency

_ENTRIES = "agency, seq, body, prev, hash"
_AGAIN = f"INSERT OR REPLACE INTO ledger ({_ENTRIES}) SELECT agency, seq, 'x', prev"
TAMPERING = [
    "UPDATE ledger SET body = 'x' WHERE seq = 1",
    "UPDATE ledger SET hash = hash",
    "DELETE FROM ledger WHERE seq = 2",
    "DELETE FROM ledger",
    "DELETE FROM ledger_head",
    "UPDATE ledger_head SET seq = seq - 1",
    "UPDATE ledger_head SET seq = seq + 2",
    "UPDATE ledger_head SET agency = 'other'",
]
ONLY_SQLITE = [
    f"{_AGAIN}, hash FROM ledger",
    "INSERT OR REPLACE INTO ledger_head (agency, seq, hash) SELECT agency, 0, hash "
    "FROM ledger_head",
]
ONLY_POSTGRESQL = [
    "TRUNCATE ledger",
    "TRUNCATE ledger_head CASCADE",
    "INSERT INTO ledger_head SELECT * FROM ledger_head ON CONFLICT (agency) DO UPDATE SET seq = 0",
]


def tamper(database: Database, statement: str) -> None:
    with database.writing() as tx:
        tx.execute(text(statement))


def two_entries(database: Database) -> None:
    with database.writing() as tx:
        an_agency(tx)
        append(tx, agency="skerry", did="one", by="dana", at=NOW)


def check_refused(database: Database, statement: str) -> None:
    two_entries(database)

    with pytest.raises(IntegrityError, match="the ledger is append-only"):
        tamper(database, statement)

    with database.reading() as tx:
        assert prove_ledger(tx).chains["skerry"].entries == 2
        assert prove_ledger(tx).holds


@pytest.mark.parametrize("statement", TAMPERING)
def test_nothing_but_a_new_entry_is_taken(database: Database, statement: str) -> None:
    check_refused(database, statement)


@pytest.mark.parametrize("statement", ONLY_SQLITE)
def test_sqlite_replaces_no_entry(sqlite_database: Database, statement: str) -> None:
    check_refused(sqlite_database, statement)


@pytest.mark.parametrize("statement", ONLY_POSTGRESQL)
def test_postgresql_empties_no_table_of_the_ledger(postgresql_url: str, statement: str) -> None:
    database = Database(postgresql_url)
    try:
        check_refused(database, statement)
    finally:
        database.dispose()
