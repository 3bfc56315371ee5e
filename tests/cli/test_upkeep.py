import json
from pathlib import Path

import pytest
from sqlmodel import text

from app.storage.database import Database
from tests.builders import a_device, a_report, a_signed_revision
from tests.cli.running import Shell
from tests.storage.ledgers import lift_guard


@pytest.fixture
def service(
    sqlite_database: Database, sqlite_url: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> Database:
    """The settings name it."""
    monkeypatch.setenv("MARCHSTONE_DATABASE_URL", sqlite_url)
    monkeypatch.setenv("MARCHSTONE_DATA_DIR", str(tmp_path / "data"))
    with sqlite_database.writing() as tx:
        a_signed_revision(tx)
        a_device(tx)
        a_report(tx)
    return sqlite_database


def settings_for(monkeypatch: pytest.MonkeyPatch, file: Path) -> None:
    monkeypatch.setenv("MARCHSTONE_DATABASE_URL", f"sqlite:///{file}")


@pytest.mark.usefixtures("service")
def test_backup_restore_prove(
    shell: Shell, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    kept = shell.run("backup", str(tmp_path / "b.zip"), "--json")
    settings_for(monkeypatch, tmp_path / "new" / "stones.sqlite3")
    back = shell.run("restore", str(tmp_path / "b.zip"))
    proven = shell.run("prove", "--head", kept.json["heads"]["skerry"])

    assert (kept.code, back.code, proven.code) == (0, 0, 0)
    assert "Everything is back" in back.out
    assert "The ledger holds." in back.out
    assert kept.json["told_in_ledger"] is True


@pytest.mark.usefixtures("service")
def test_a_backup_prints_the_heads_to_keep_apart(shell: Shell) -> None:
    told = shell.run("backup")

    assert "skerry: " in told.out
    assert "entries, head " in told.out
    assert "data/backups/marchstone-" in told.out


@pytest.mark.usefixtures("service")
def test_a_backup_that_the_ledger_cannot_note_is_good_and_says_so(
    shell: Shell, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object, **__: object) -> None:
        raise OSError("disk full")

    monkeypatch.setattr("app.upkeep.tell_backup", full)

    told = shell.run("backup")

    assert told.code == 1
    assert "The ledger could not take a note of it" in told.out


@pytest.mark.usefixtures("service")
def test_export_import(shell: Shell, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file = str(tmp_path / "skerry.zip")
    out = shell.run("export", "skerry", file)
    settings_for(monkeypatch, tmp_path / "other" / "stones.sqlite3")
    back = shell.run("import", file, "--json")

    assert (out.code, back.code) == (0, 0)
    assert back.json["holds"] is True


@pytest.mark.usefixtures("service")
def test_a_refusal_reads_like_every_other(shell: Shell, tmp_path: Path) -> None:
    file = shell.file("no.zip", b"limits")

    told = shell.run("restore", file, "--json")
    nowhere = shell.run("export", "nowhere", str(tmp_path / "n.zip"))

    assert told.code == nowhere.code == 2
    assert told.json["errors"][0]["column"] == "file"
    assert "no agency nowhere" in nowhere.err


@pytest.mark.usefixtures("service")
def test_the_self_test_tells_what_to_do(shell: Shell) -> None:
    told = shell.run("selftest")

    assert told.code == 0
    assert "fine  ledger" in told.out
    assert "look  backup      None was ever made." in told.out
    assert "marchstone backup every night" in told.out


@pytest.mark.usefixtures("service")
def test_the_self_test_looks_into_the_list_of_leaked_passwords(
    shell: Shell, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("MARCHSTONE_LEAKED_PASSWORDS", str(tmp_path / "none.txt"))

    told = shell.run("selftest")

    assert told.code == 1
    assert "none.txt cannot be read: No such file or directory." in told.out
    assert "ordered by hash" in told.out


def test_the_self_test_fails_on_a_broken_ledger(service: Database, shell: Shell) -> None:
    with service.writing() as tx:
        lift_guard(tx)
        tx.execute(text("DELETE FROM ledger WHERE seq = 2"))

    told = shell.run("selftest", "--json")

    assert told.code == 1
    (found,) = (one for one in json.loads(told.out)["checks"] if one["name"] == "ledger")
    assert found["verdict"] == "wrong"
    assert "entry 2 is missing" in found["says"]


def test_without_a_database_it_says_where_it_looked(
    shell: Shell, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    settings_for(monkeypatch, tmp_path / "none.sqlite3")

    told = shell.run("selftest")

    assert told.code == 2
    assert "none.sqlite3" in told.err
