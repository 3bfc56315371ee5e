"""What the service cannot help is told plainly: nothing was stored, and what was typed is shown."""

import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import pytest
import sqlalchemy as sa
from sqlmodel import text
from starlette.testclient import TestClient

from app.domain.people import Role
from app.lookups.ledger import prove_agency
from app.storage import engine
from app.storage.database import Database
from app.storage.ledger import append
from app.storage.troubles import StorageBusy, StorageFull, StorageUnreachable
from tests.builders import NOW, an_agency
from tests.web.visits import Visits

ROOT = Path(__file__).parents[2]
LONG = "a note that took long to write " * 100
UNTIL_FULL = """
import resource, sys
from datetime import UTC, datetime
from pathlib import Path

from app.storage.database import Database
from app.storage.ledger import append
from app.storage.troubles import StorageFull, StorageUnreachable

most = Path(sys.argv[2]).stat().st_size + 200_000
resource.setrlimit(resource.RLIMIT_FSIZE, (most, most))
database, done = Database(sys.argv[1]), 0
try:
    while True:
        with database.writing() as tx:
            append(tx, agency="skerry", did="x" * 5000, by="x", at=datetime.now(UTC))
        done += 1
except (StorageFull, StorageUnreachable) as told:
    print(done, told.message)
"""


@pytest.fixture
def short_waits(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(engine, "BUSY_MS", 300)


@pytest.fixture
def visits(sqlite_database: Database, tmp_path: Path) -> Visits:
    visits = Visits(sqlite_database, tmp_path)
    with sqlite_database.writing() as tx:
        an_agency(tx)
    return visits


def add_a_device(client: TestClient, number: int) -> tuple[int, str]:
    typed = {"tag": f"boat-{number}", "model": "dunlin", "station": f"North, pier {number}"}
    answer = client.post("/skerry/fleet/add", data=typed)
    return answer.status_code, answer.text


@contextmanager
def no_room(database: Database) -> Iterator[None]:
    """The file may not grow by a single page."""

    def full(connection: sqlite3.Connection, _: object) -> None:
        (pages,) = connection.execute("PRAGMA page_count").fetchone()
        connection.execute(f"PRAGMA max_page_count = {pages}")

    sa.event.listen(database.engine, "connect", full)
    database.dispose()
    yield
    sa.event.remove(database.engine, "connect", full)
    database.dispose()


def grow(database: Database) -> None:
    for _ in range(50):
        with database.writing() as tx:
            append(tx, agency="skerry", did=LONG, by="dana", at=NOW)


def entries(database: Database) -> int:
    with database.reading() as tx:
        proof = prove_agency(tx, agency="skerry")
    assert proof.holds
    return proof.entries


def test_a_full_disk_is_told_and_loses_nothing(sqlite_database: Database) -> None:
    with sqlite_database.writing() as tx:
        an_agency(tx)
    before = entries(sqlite_database)

    with no_room(sqlite_database), pytest.raises(StorageFull, match="The disk is full"):
        grow(sqlite_database)

    assert entries(sqlite_database) >= before
    grow(sqlite_database)
    assert entries(sqlite_database) >= before + 50


@pytest.mark.skipif(sys.platform == "win32", reason="It limits no files that way")
def test_what_was_stored_before_the_disk_was_full_is_there(
    sqlite_database: Database, sqlite_url: str
) -> None:
    with sqlite_database.writing() as tx:
        an_agency(tx)
    sqlite_database.dispose()

    told = subprocess.run(
        [sys.executable, "-c", UNTIL_FULL, sqlite_url, _file(sqlite_url)],
        cwd=ROOT, capture_output=True, text=True, check=True,
    )  # fmt: skip

    done, _, message = told.stdout.strip().partition(" ")
    assert "othing was stored" in message
    assert int(done) > 5
    assert entries(sqlite_database) == 1 + int(done)


def test_the_page_of_a_full_disk_keeps_what_was_typed(visits: Visits) -> None:
    femi = visits.of(Role.FLEET_MANAGER)

    with no_room(visits.database):
        told = [add_a_device(femi, number) for number in range(60)]

    refused = [number for number, (status, _) in enumerate(told) if status == 507]
    assert {status for status, _ in told} <= {303, 507}
    assert refused
    assert "The disk is full" in told[refused[0]][1]
    assert f"North, pier {refused[0]}" in told[refused[0]][1]
    assert add_a_device(femi, 99)[0] == 303


@pytest.mark.usefixtures("short_waits")
def test_the_page_of_a_busy_database_keeps_what_was_typed(visits: Visits, sqlite_url: str) -> None:
    femi = visits.of(Role.FLEET_MANAGER)
    visits.database.dispose()

    with closing(sqlite3.connect(_file(sqlite_url), isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        status, page = add_a_device(femi, 1)

    assert status == 503
    assert "try again" in page
    assert "North, pier 1" in page
    assert add_a_device(femi, 1)[0] == 303


def _file(url: str) -> str:
    return sa.make_url(url).database or ""


@pytest.mark.usefixtures("short_waits")
def test_a_locked_sqlite_file_is_told_as_busy(sqlite_url: str) -> None:
    database = Database(sqlite_url)
    with database.writing() as tx:
        an_agency(tx)

    with closing(sqlite3.connect(_file(sqlite_url), isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(StorageBusy, match="try again"):
            grow(database)
        with database.reading() as tx:  # looking up goes on
            assert prove_agency(tx, agency="skerry").entries == 1
    grow(database)
    database.dispose()


@pytest.mark.usefixtures("short_waits")
def test_a_locked_row_of_postgresql_is_told_as_busy(postgresql_url: str) -> None:
    database = Database(postgresql_url)
    with database.writing() as tx:
        an_agency(tx)

    with database.writing() as other:
        other.execute(text("SELECT * FROM ledger_head FOR UPDATE"))
        with pytest.raises(StorageBusy, match="try again"):
            grow(database)
        with database.reading() as tx:
            assert prove_agency(tx, agency="skerry").entries == 1
    grow(database)
    database.dispose()


def cut_off_half_way(database: Database) -> None:
    """The server ends the connection of a transaction, as at its restart."""
    with database.writing() as tx:
        an_agency(tx)
        pid = tx.execute(text("SELECT pg_backend_pid()")).scalar_one()
        with database.writing() as other:
            other.execute(text(f"SELECT pg_terminate_backend({pid})"))
        tx.execute(text("SELECT 1"))


def test_a_connection_that_the_server_ends_is_told_and_replaced(postgresql_url: str) -> None:
    database = Database(postgresql_url)

    with pytest.raises(StorageUnreachable, match="cannot be reached"):
        cut_off_half_way(database)

    with database.writing() as tx:
        an_agency(tx)
    assert entries(database) == 1
    database.dispose()


def test_a_database_that_went_away_is_told(tmp_path: Path) -> None:
    database = Database(f"postgresql+psycopg://nobody@/none?host={tmp_path}")

    with pytest.raises(StorageUnreachable), database.reading() as tx:
        tx.execute(text("SELECT 1"))
    database.dispose()


def test_a_connection_that_ends_while_it_commits_does_not_tell_that_nothing_was_stored(
    postgresql_url: str,
) -> None:
    """Nobody knows whether it was."""
    database, other = Database(postgresql_url), Database(postgresql_url)

    def cut_off(connection: sa.Connection) -> None:
        pid = connection.exec_driver_sql("SELECT pg_backend_pid()").scalar_one()
        with other.writing() as tx:
            tx.execute(text(f"SELECT pg_terminate_backend({pid})"))

    with database.writing() as tx:
        an_agency(tx)
    sa.event.listen(database.engine, "commit", cut_off)
    with pytest.raises(StorageUnreachable, match="Look whether it is there"):
        grow(database)

    sa.event.remove(database.engine, "commit", cut_off)
    before = entries(database)
    grow(database)
    assert entries(database) == before + 50
    database.dispose()
    other.dispose()
