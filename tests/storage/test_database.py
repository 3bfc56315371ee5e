from contextlib import suppress

import pytest
from sqlalchemy.exc import DBAPIError
from sqlmodel import Session, text

from app.domain.errors import NotFound, NotNow
from app.storage.agencies import agency_by_key
from app.storage.database import Database, keep_even_if_refused
from app.storage.people import PersonRow
from tests.builders import an_agency


def stored(database: Database, key: str) -> bool:
    with database.reading() as tx:
        return agency_by_key(tx, key) is not None


def test_writing_commits_at_the_exit(database: Database) -> None:
    with database.writing() as tx:
        an_agency(tx)
        assert not stored(database, "skerry")

    assert stored(database, "skerry")


@pytest.mark.parametrize("error", [NotNow("no"), RuntimeError("no")])
def test_any_exception_undoes_everything(database: Database, error: Exception) -> None:
    with pytest.raises(type(error)), database.writing() as tx:
        an_agency(tx)
        raise error

    assert not stored(database, "skerry")


def test_a_refusal_can_keep_what_was_written(database: Database) -> None:
    with pytest.raises(NotNow), database.writing() as tx:
        an_agency(tx)
        keep_even_if_refused(tx)
        raise NotNow("no")

    assert stored(database, "skerry")


def test_a_failure_of_our_own_keeps_nothing_even_so(database: Database) -> None:
    with pytest.raises(RuntimeError), database.writing() as tx:
        an_agency(tx)
        keep_even_if_refused(tx)
        raise RuntimeError("no")

    assert not stored(database, "skerry")


def test_a_reader_cannot_write(database: Database) -> None:
    with database.reading() as tx, pytest.raises(DBAPIError, match=r"read-?only"):
        tx.execute(text("DELETE FROM agency"))


def test_a_writer_can_write_on_a_connection_that_a_reader_used(database: Database) -> None:
    with database.reading() as tx:
        tx.execute(text("SELECT 1"))
    with database.writing() as tx:
        an_agency(tx)

    assert stored(database, "skerry")


def test_a_page_sees_one_state_of_the_data(database: Database) -> None:
    with database.reading() as page:
        before = _count(page)
        with database.writing() as tx:
            an_agency(tx)
        after = _count(page)

    assert (before, after) == (0, 0)
    assert stored(database, "skerry")


def _count(tx: Session) -> int:
    return int(tx.execute(text("SELECT count(*) FROM agency")).scalar_one())


@pytest.mark.parametrize("number", [2**31, 2**63, 2**100])
def test_a_number_larger_than_any_row_is_not_found(database: Database, number: int) -> None:
    """On PostgreSQL a row's number has four bytes, on SQLite eight."""
    with suppress(NotFound), database.reading() as tx:
        assert tx.get(PersonRow, number) is None
