"""Data of every schema that was ever released come through to the newest one.

`schemas/NNNN.sql` holds the rows of a small agency as that schema kept them.
"""

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa
from alembic import command

from app.domain.finding_life import FindingStatus
from app.domain.findings import Severity
from app.domain.known_devices import DeviceStatus
from app.domain.people import Role
from app.lookups.finding_stories import finding_story
from app.lookups.findings import finding
from app.lookups.fleet import wall
from app.lookups.ledger import prove_ledger
from app.lookups.revisions import all_revisions
from app.places import folder
from app.storage.database import Database
from app.storage.engine import for_writing, make_engine
from app.storage.migrating import alembic_config, open_database
from tests.builders import DAY, HOUR, NOW, a_person, a_report

KEPT = sorted((Path(__file__).parent / "schemas").glob("*.sql"))


@pytest.fixture(params=KEPT, ids=lambda path: path.stem)
def upgraded(request: pytest.FixtureRequest, empty_url: str, tmp_path: Path) -> Iterator[Database]:
    rows: Path = request.param
    source = f"sqlite:///{tmp_path / 'kept.sqlite3'}"
    _make(source, rows.stem)
    with closing(sqlite3.connect(tmp_path / "kept.sqlite3")) as kept:
        kept.executescript(rows.read_bytes().decode())  # as text, line ends would change
    if empty_url.startswith("sqlite"):
        database = open_database(source, now=NOW)
    else:
        _make(empty_url, rows.stem)
        _copy(source, empty_url)
        database = open_database(empty_url, now=NOW)
    yield database
    database.dispose()


def _make(url: str, version: str) -> None:
    engine = for_writing(make_engine(url))
    with engine.begin() as connection:
        command.upgrade(alembic_config(connection, folder("migrations")), version)
    engine.dispose()


def _copy(source: str, target: str) -> None:
    here, there = make_engine(source), for_writing(make_engine(target))
    tables = sa.MetaData()
    with here.connect() as reading, there.begin() as writing:
        tables.reflect(there)
        for table in tables.sorted_tables:
            if table.name == "alembic_version":
                continue
            found = [dict(row) for row in reading.execute(_all_of(table)).mappings()]
            if found:
                writing.execute(table.insert(), [_typed(table, row) for row in found])
            if "id" in table.columns:
                last = f"SELECT setval(pg_get_serial_sequence('{table.name}', 'id'), 1000)"
                writing.execute(sa.text(last))
    here.dispose()
    there.dispose()


def _all_of(table: sa.Table) -> sa.TextClause:
    return sa.text(f"SELECT * FROM {table.name}")


def _typed(table: sa.Table, row: dict[str, Any]) -> dict[str, Any]:
    """SQLite keeps times as text in UTC."""
    return {
        name: datetime.fromisoformat(value).replace(tzinfo=UTC)
        if isinstance(table.columns[name].type, sa.DateTime) and value is not None
        else value
        for name, value in row.items()
    }


def test_what_was_stored_is_still_told(upgraded: Database) -> None:
    with upgraded.reading() as tx:
        agency = a_person(tx).agency_id
        seen = wall(tx, agency_id=agency, now=NOW + 2 * DAY)
        held = {one.mark.device.tag: one.status for one in seen.devices}
        found = finding(tx, agency_id=agency, finding_id=1, now=NOW)
        numbers = [line.number for line in all_revisions(tx, agency_id=agency, now=NOW)]

    assert held["boat-3"] is DeviceStatus.UNSAFE
    assert found.finding.status is FindingStatus.CONTAINED
    assert numbers == [1, 2, 3]


def test_a_finding_has_its_story_and_its_due_times(upgraded: Database) -> None:
    with upgraded.reading() as tx:
        agency = a_person(tx).agency_id
        story = finding_story(tx, agency_id=agency, finding_id=1, now=NOW)

    found = story.page.finding
    assert [one.kind.value for one in story.events] == ["opened", "contained"]
    assert found.contained is not None
    assert story.events[-1].name == found.contained.name
    assert found.verify_due_at > found.contain_due_at > found.opened_at


def test_the_ledger_still_holds(upgraded: Database) -> None:
    with upgraded.reading() as tx:
        assert prove_ledger(tx).holds


def test_the_work_goes_on(upgraded: Database) -> None:
    with upgraded.writing() as tx:
        femi = a_person(tx, Role.FLEET_MANAGER)
        later = NOW + 3 * HOUR
        again = a_report(tx, by=femi, read_at=later, idempotency_key="later")
        seen = wall(tx, agency_id=femi.agency_id, now=NOW + 2 * DAY)

    assert again.read_at == later
    worst = [one.mark.tally.worst for one in seen.devices if one.mark.tally]
    assert worst
    assert Severity.UNSAFE not in worst
