"""Processes that do long work: on PostgreSQL by a queue that others made, on SQLite by looking."""

import asyncio
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path

import procrastinate
import pytest
import sqlalchemy as sa
from procrastinate.schema import SchemaManager
from sqlmodel import Session

from app.actions.long_work import ask_to_take, pack
from app.domain.errors import NotNow
from app.domain.long_work import WorkState
from app.domain.people import Role
from app.jobs.worker import DEAD_AFTER_S, do_all, queue_of, sweep
from app.lookups.long_work import QUEUE
from app.storage import work_queue
from app.storage.database import Database
from app.storage.migrating import open_database
from tests.builders import NOW, a_device, a_person, a_signed_revision
from tests.jobs.test_doing import FILE, asked, counted, work
from tests.reading_files import digest


@pytest.fixture
def on_postgresql(postgresql_url: str) -> Iterator[Database]:
    database = Database(postgresql_url)
    with database.writing() as tx:
        a_signed_revision(tx)
        a_device(tx)
    yield database
    database.dispose()


def _in_queue(tx: Session, *statements: str) -> None:
    """The triggers of the queue look for its tables on the search path."""
    for one in (f"SET LOCAL search_path TO {work_queue.PATH}", *statements):
        tx.execute(sa.text(one))


def jobs(database: Database) -> list[str]:
    with database.reading() as tx:
        wanted = f"SELECT status::text FROM {work_queue.SCHEMA}.procrastinate_jobs ORDER BY id"
        return list(tx.scalars(sa.text(wanted)))


def run_queue(database: Database, url: str, *, sweeping: bool = False) -> None:
    """Until it is empty."""

    async def run() -> None:
        queue = queue_of(database, url=url, clock=lambda: NOW)
        async with queue.open_async():
            if sweeping:
                await sweep(queue, database)
            await queue.run_worker_async(
                queues=[QUEUE], wait=False, delete_jobs="always", install_signal_handlers=False
            )

    asyncio.run(run())


def test_on_sqlite_what_waits_is_found_by_looking(sqlite_database: Database) -> None:
    with sqlite_database.writing() as tx:
        a_signed_revision(tx)
        a_device(tx)
    numbers = [asked(sqlite_database) for _ in range(2)]

    do_all(sqlite_database, clock=lambda: NOW)

    assert [work(sqlite_database, one).state for one in numbers] == [WorkState.DONE] * 2


def test_what_is_asked_for_stands_in_the_queue_with_the_same_commit(
    on_postgresql: Database,
) -> None:
    with pytest.raises(NotNow):
        _ask_and_undo(on_postgresql)
    assert (jobs(on_postgresql), counted(on_postgresql, "long_work")) == ([], 0)

    asked(on_postgresql)

    assert jobs(on_postgresql) == ["todo"]


def _ask_and_undo(database: Database) -> None:
    with database.writing() as tx:
        femi = a_person(tx, Role.FLEET_MANAGER)
        stored = pack(BytesIO(FILE))
        ask_to_take(tx, content=stored, fingerprint=digest(FILE), by=femi, now=NOW)
        raise NotNow("undone")


def test_a_process_takes_it_from_the_queue(on_postgresql: Database, postgresql_url: str) -> None:
    number = asked(on_postgresql)

    run_queue(on_postgresql, postgresql_url)

    assert work(on_postgresql, number).state is WorkState.DONE
    assert counted(on_postgresql) == 1
    assert jobs(on_postgresql) == []


def test_what_a_dead_process_had_taken_is_taken_again(
    on_postgresql: Database, postgresql_url: str
) -> None:
    number = asked(on_postgresql)
    with on_postgresql.writing() as tx:
        _in_queue(
            tx,
            "INSERT INTO procrastinate_workers (id, last_heartbeat) OVERRIDING SYSTEM VALUE "
            f"VALUES (7, now() - interval '{DEAD_AFTER_S + 1} seconds')",
            "UPDATE procrastinate_jobs SET status = 'doing', worker_id = 7",
        )

    run_queue(on_postgresql, postgresql_url, sweeping=True)

    assert work(on_postgresql, number).state is WorkState.DONE


def test_what_waits_without_a_place_in_the_queue_gets_one(
    on_postgresql: Database, postgresql_url: str
) -> None:
    """As after a backup was restored: the queue is no part of it."""
    number = asked(on_postgresql)
    with on_postgresql.writing() as tx:
        _in_queue(tx, "DELETE FROM procrastinate_jobs")

    run_queue(on_postgresql, postgresql_url, sweeping=True)

    assert work(on_postgresql, number).state is WorkState.DONE


def test_the_tables_of_the_queue_come_up_once_and_tell_their_version(
    empty_postgresql_url: str,
) -> None:
    for _ in range(2):
        open_database(empty_postgresql_url, now=NOW).dispose()
    engine = sa.create_engine(empty_postgresql_url)

    with engine.connect() as connection:
        assert work_queue._version(connection) == procrastinate.__version__
        names = sa.inspect(connection).get_table_names(schema=work_queue.SCHEMA)
        assert "procrastinate_jobs" in names
        assert not [
            name for name in sa.inspect(connection).get_table_names() if "procrastinate" in name
        ]
    engine.dispose()


def test_an_earlier_queue_is_brought_up_by_the_steps_in_between() -> None:
    folder = Path(SchemaManager.get_migrations_path())

    assert work_queue._steps("3.3.0") == [
        one.read_text(encoding="utf-8") for one in sorted(folder.glob("03.04*.sql"))
    ]
    assert work_queue._steps(procrastinate.__version__) == []
