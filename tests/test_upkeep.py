"""Backups of a service at work, and the way back, from either database into either."""

import json
import shutil
import sqlite3
import threading
import zipfile
from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa
from sqlmodel import text

from app import upkeep
from app.actions.people import make_setup_link
from app.domain.errors import MarchstoneError, NotFound, NotNow, Refused
from app.domain.finding_life import FindingStatus
from app.domain.people import Role
from app.domain.selftest import Verdict, selftest
from app.lookups.backups import last_backup_at
from app.lookups.ledger import prove_ledger
from app.settings import Settings
from app.storage.database import Database
from app.storage.ledger import append
from app.storage.migrating import open_database
from tests.actions.test_findings import a_finding
from tests.builders import DAY, HOUR, NOW, a_person, a_report, a_signed_revision, an_agency, olu
from tests.storage.ledgers import lift_guard
from tests.storage.whole_databases import everything


def settings_of(url: str, folder: Path) -> Settings:
    return Settings(data_dir=folder, database_url=url)


@pytest.fixture
def filled(database: Database) -> Database:
    with database.writing() as tx:
        make_setup_link(tx, now=NOW)
        a_finding(tx, FindingStatus.CLOSED)
        a_report(tx, read_at=NOW + HOUR)
        a_person(tx, Role.ADMINISTRATOR)
        olu(tx)
    return database


@pytest.fixture
def source(filled: Database, database_url: str, tmp_path: Path) -> Settings:  # noqa: ARG001
    return settings_of(database_url, tmp_path / "source")


@pytest.fixture(params=["sqlite", "postgresql"])
def target(request: pytest.FixtureRequest, tmp_path: Path) -> Settings:
    folder = tmp_path / "target"
    if request.param == "postgresql":
        return settings_of(request.getfixturevalue("empty_postgresql_url"), folder)
    return settings_of(f"sqlite:///{folder / 'marchstone.sqlite3'}", folder)


@pytest.fixture
def opened_target(target: Settings) -> Iterator[Database]:
    database = Database(target.database_url)
    yield database
    database.dispose()


def test_a_backup_comes_back_as_it_was_and_proves(
    source: Settings, filled: Database, target: Settings, opened_target: Database
) -> None:
    before = everything(filled)

    kept = upkeep.back_up(source, None, now=NOW)
    backup, proof = upkeep.restore(target, kept.file, now=NOW + DAY)

    assert proof.holds
    assert everything(opened_target) == before
    assert {key: one.head for key, one in proof.chains.items()} == {
        key: head for key, (_, head) in backup.heads.items()
    }


def test_work_goes_on_after_a_restore(
    source: Settings, target: Settings, opened_target: Database
) -> None:
    upkeep.restore(target, upkeep.back_up(source, None, now=NOW).file, now=NOW)

    with opened_target.writing() as tx:
        a_report(tx, read_at=NOW + DAY)
        a_person(tx, Role.REVIEWER)

    with opened_target.reading() as tx:
        assert prove_ledger(tx).holds
        with pytest.raises(sa.exc.IntegrityError, match="append-only"):
            opened_target.engine.connect().execution_options(writing=True).exec_driver_sql(
                "DELETE FROM ledger"
            )


def test_a_backup_carries_the_heads_and_is_told_in_the_ledger(
    source: Settings, filled: Database
) -> None:
    kept = upkeep.back_up(source, None, now=NOW)

    with zipfile.ZipFile(kept.file) as packed:
        about = json.loads(packed.read("backup.json"))
    with filled.reading() as tx:
        assert last_backup_at(tx) == NOW
        proof = prove_ledger(tx, head=about["heads"]["skerry"][1])
    assert proof.holds
    assert about["heads"]["skerry"][0] == proof.chains["skerry"].entries
    assert kept.told
    assert kept.file == source.data_dir / "backups" / "marchstone-20260302T090000Z.zip"


def test_a_backup_while_others_write_is_one_moment(
    source: Settings, filled: Database, target: Settings
) -> None:
    stop = threading.Event()

    def write() -> None:
        while not stop.is_set():
            with filled.writing() as tx:
                append(tx, agency="skerry", did="one", by="dana", at=NOW)

    writer = threading.Thread(target=write)
    writer.start()
    try:
        kept = [upkeep.back_up(source, source.data_dir / f"{n}.zip", now=NOW) for n in range(5)]
    finally:
        stop.set()
        writer.join()

    _, proof = upkeep.restore(target, kept[-1].file, now=NOW)
    assert proof.holds
    assert proof.chains["skerry"].entries == kept[-1].backup.heads["skerry"][0]


def test_nothing_is_written_over_data(source: Settings, filled: Database) -> None:
    kept = upkeep.back_up(source, None, now=NOW)
    before = everything(filled)

    with pytest.raises(NotNow, match="over"):
        upkeep.restore(source, kept.file, now=NOW)
    with pytest.raises(NotNow, match="over"):
        upkeep.back_up(source, kept.file, now=NOW)

    assert everything(filled) == before


def test_a_left_over_journal_stops_a_restore(source: Settings, tmp_path: Path) -> None:
    """SQLite would play it into the file that comes back."""
    kept = upkeep.back_up(source, None, now=NOW)
    place = settings_of(f"sqlite:///{tmp_path / 'new' / 'm.sqlite3'}", tmp_path / "new")
    place.data_dir.mkdir()
    (place.data_dir / "m.sqlite3-wal").write_bytes(b"left over")

    with pytest.raises(NotNow, match=r"m\.sqlite3-wal is there already"):
        upkeep.restore(place, kept.file, now=NOW)


def damaged(file: Path, *, at: float) -> Path:
    """Some bytes turned, so far into the file. A single bit need not change what is unpacked:
    a run of zeros can be told in several ways."""
    content = bytearray(file.read_bytes())
    first = int(len(content) * at)
    for place in range(first, first + 64):
        content[place] ^= 0xFF
    other = file.with_name("damaged.zip")
    other.write_bytes(content)
    return other


@pytest.mark.parametrize("at", [0.0, 0.2, 0.5, 0.9])
def test_a_damaged_backup_is_refused(
    sqlite_database: Database, sqlite_url: str, tmp_path: Path, at: float
) -> None:
    with sqlite_database.writing() as tx:
        a_signed_revision(tx)
    kept = upkeep.back_up(settings_of(sqlite_url, tmp_path / "a"), None, now=NOW)
    place = settings_of(f"sqlite:///{tmp_path / 'b' / 'm.sqlite3'}", tmp_path / "b")

    with pytest.raises(Refused, match="cannot be used as a backup"):
        upkeep.restore(place, damaged(kept.file, at=at), now=NOW)

    assert list(place.data_dir.iterdir()) == []


@pytest.mark.parametrize("content", [b"", b"PK\x05\x06" + bytes(18), b"limits"])
def test_what_is_no_backup_is_refused(tmp_path: Path, content: bytes) -> None:
    file = tmp_path / "any.zip"
    file.write_bytes(content)

    with pytest.raises(Refused, match="cannot be used as a backup"):
        upkeep.restore(settings_of(f"sqlite:///{tmp_path / 'm'}", tmp_path), file, now=NOW)


def test_a_file_that_is_not_there_is_told(tmp_path: Path) -> None:
    place = settings_of(f"sqlite:///{tmp_path / 'm'}", tmp_path)

    with pytest.raises(Refused, match="No such file"):
        upkeep.restore(place, tmp_path / "none.zip", now=NOW)
    with pytest.raises(MarchstoneError, match="There is no database"):
        upkeep.back_up(place, None, now=NOW)


def test_an_agency_moves_by_itself(
    source: Settings, filled: Database, target: Settings, opened_target: Database, tmp_path: Path
) -> None:
    before = everything(filled)

    kept = upkeep.export_agency(source, "skerry", tmp_path / "skerry.zip", now=NOW)
    open_database(target.database_url, now=NOW).dispose()
    with opened_target.writing() as tx:
        make_setup_link(tx, now=NOW)  # a service that was started, and nothing else
    _, proof = upkeep.import_agency(target, kept.file, now=NOW)

    after = everything(opened_target)
    assert proof.holds
    assert [row["key"] for row in after["agency"]] == ["skerry"]
    assert {row["agency"] for row in after["ledger"]} == {"*", "skerry"}
    for name in (
        "revision",
        "signature",
        "device",
        "report",
        "device_now",
        "device_presets",
        "layout",
    ):
        assert after[name] == before[name]
    assert {row["name"] for row in after["person"]} == {row["name"] for row in before["person"]} - {
        "Olu"
    }


def test_an_agency_joins_no_other(source: Settings, tmp_path: Path) -> None:
    kept = upkeep.export_agency(source, "elsewhere", tmp_path / "elsewhere.zip", now=NOW)

    with pytest.raises(NotNow, match="holds data already"):
        upkeep.import_agency(source, kept.file, now=NOW)
    with pytest.raises(NotFound, match="no agency nowhere"):
        upkeep.export_agency(source, "nowhere", tmp_path / "nowhere.zip", now=NOW)


def test_one_agency_and_a_whole_installation_are_not_mixed_up(
    source: Settings, target: Settings, tmp_path: Path
) -> None:
    one = upkeep.export_agency(source, "skerry", tmp_path / "one.zip", now=NOW)
    whole = upkeep.back_up(source, None, now=NOW)

    with pytest.raises(NotNow, match="marchstone import"):
        upkeep.restore(target, one.file, now=NOW)
    with pytest.raises(NotNow, match="marchstone restore"):
        upkeep.import_agency(target, whole.file, now=NOW)


def verdicts(settings: Settings, **instead: Any) -> dict[str, Verdict]:
    seen = replace(upkeep.observed(settings, now=NOW), **instead)
    return {check.name: check.verdict for check in selftest(seen)}


def test_a_sound_installation_passes_its_self_test(source: Settings) -> None:
    upkeep.back_up(source, None, now=NOW + DAY)
    https = source.model_copy(
        update={"public_url": "https://stones.example", "secure_cookies": True}
    )

    assert set(verdicts(https, now=NOW + DAY, server_now=NOW + DAY).values()) == {Verdict.FINE}


def test_a_tampered_ledger_and_a_clock_gone_back_fail_it(
    source: Settings, filled: Database
) -> None:
    with filled.writing() as tx:
        append(tx, agency="skerry", did="one", by="dana", at=NOW + DAY)
        lift_guard(tx)
        tx.execute(text("UPDATE ledger SET body = body || ' ' WHERE seq = 1 AND agency = 'skerry'"))

    found = verdicts(source, server_now=None)

    assert (found["ledger"], found["clock"]) == (Verdict.WRONG, Verdict.WRONG)


def test_a_damaged_file_fails_it(
    sqlite_database: Database, sqlite_url: str, tmp_path: Path
) -> None:
    with sqlite_database.writing() as tx:
        an_agency(tx)
    sqlite_database.dispose()
    file = Path(sa.make_url(sqlite_url).database or "")
    copy = tmp_path / "damaged.sqlite3"
    shutil.copyfile(file, copy)
    with closing(sqlite3.connect(copy)) as found:
        (root,) = found.execute("SELECT rootpage FROM sqlite_master WHERE name = 'draw'").fetchone()
        (size,) = found.execute("PRAGMA page_size").fetchone()
    with copy.open("r+b") as opened:
        opened.seek((root - 1) * size)
        opened.write(b"\xff" * size)

    found_by = verdicts(settings_of(f"sqlite:///{copy}", tmp_path))

    assert found_by["database"] is Verdict.WRONG
