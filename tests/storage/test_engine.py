import threading
import time

from sqlmodel import text

from app.storage.database import Database
from app.storage.people import people_of
from tests.builders import a_person, an_agency


def test_sqlite_is_set_up_to_lose_nothing(sqlite_url: str) -> None:
    database = Database(sqlite_url)
    with database.writing() as tx:
        found = {
            name: tx.execute(text(f"PRAGMA {name}")).scalar_one()
            for name in ("foreign_keys", "journal_mode", "synchronous", "busy_timeout")
        }
    database.dispose()

    assert found == {
        "foreign_keys": 1,
        "journal_mode": "wal",
        "synchronous": 2,
        "busy_timeout": 10_000,
    }


def test_a_second_sqlite_writer_waits_for_the_first(sqlite_url: str) -> None:
    database = Database(sqlite_url)
    order: list[str] = []

    def second() -> None:
        with database.writing() as tx:
            an_agency(tx)
            order.append("second")

    with database.writing() as tx:
        an_agency(tx)
        other = threading.Thread(target=second)
        other.start()
        time.sleep(0.2)
        a_person(tx)
        order.append("first")
    other.join()
    with database.reading() as tx:
        people = people_of(tx, an_agency(tx).id)
    database.dispose()

    assert order == ["first", "second"]
    assert [person.name for person in people] == ["Dana"]
